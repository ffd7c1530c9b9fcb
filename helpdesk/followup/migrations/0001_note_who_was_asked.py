"""Keep when somebody was asked how it went."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("cases", "0008_let_people_give_up"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Asking",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("about", models.DateTimeField(help_text="When the wait for the outcome began.")),
                (
                    "number",
                    models.PositiveSmallIntegerField(
                        help_text="1 is the question, 2 the reminder."
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "channel",
                    models.CharField(
                        choices=[
                            ("web", "web form"),
                            ("mail", "e-mail"),
                            ("chat", "chat server"),
                            ("direct", "direct message"),
                            ("social", "social post"),
                            ("person", "in person"),
                            ("other", "another way"),
                        ],
                        max_length=10,
                    ),
                ),
                (
                    "along_with",
                    models.ForeignKey(
                        blank=True,
                        help_text="The joined case of the same person whose question was this one, too.",
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to="cases.case",
                    ),
                ),
                (
                    "asked_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="askings",
                        to="cases.case",
                    ),
                ),
            ],
            options={
                "ordering": ["at", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("case", "about", "number"), name="asking_once_a_number"
                    )
                ],
            },
        ),
    ]
