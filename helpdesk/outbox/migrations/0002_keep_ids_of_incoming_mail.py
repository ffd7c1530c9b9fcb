"""Keep the Message-IDs of mail about a case, for threads."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0004_tell_the_route_of_words"),
        ("outbox", "0001_make_outbox"),
    ]

    operations = [
        migrations.CreateModel(
            name="IncomingId",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("message_id", models.CharField(max_length=998)),
                (
                    "references",
                    models.TextField(blank=True, default="", help_text="Ids, oldest first."),
                ),
                ("subject", models.CharField(blank=True, default="", max_length=200)),
                ("noted_at", models.DateTimeField()),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="incoming_ids",
                        to="cases.case",
                    ),
                ),
            ],
            options={
                "ordering": ["noted_at", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("case", "message_id"), name="incoming_id_once_a_case"
                    )
                ],
            },
        ),
    ]
