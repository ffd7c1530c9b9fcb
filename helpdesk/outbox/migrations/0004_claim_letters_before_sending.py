"""Claim a letter before the dialogue with the mail server."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("outbox", "0003_note_undelivered_letters"),
    ]

    operations = [
        migrations.AddField(
            model_name="outgoingmail",
            name="sending_at",
            field=models.DateTimeField(
                blank=True,
                help_text="When a worker began to hand it over; empty afterwards.",
                null=True,
            ),
        ),
    ]
