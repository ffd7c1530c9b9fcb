"""Note letters that did not arrive, and addresses that take none."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("outbox", "0002_keep_ids_of_incoming_mail"),
    ]

    operations = [
        migrations.CreateModel(
            name="AddressMark",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("address_hash", models.CharField(max_length=64, unique=True)),
                ("undeliverable_at", models.DateTimeField(blank=True, null=True)),
                ("why", models.CharField(blank=True, default="", max_length=300)),
                ("unsubscribed_at", models.DateTimeField(blank=True, null=True)),
            ],
        ),
        migrations.AddField(
            model_name="outgoingmail",
            name="undelivered_at",
            field=models.DateTimeField(
                blank=True,
                help_text="When the desk learned that it did not arrive.",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="outgoingmail",
            name="undelivered_why",
            field=models.CharField(blank=True, default="", max_length=300),
        ),
    ]
