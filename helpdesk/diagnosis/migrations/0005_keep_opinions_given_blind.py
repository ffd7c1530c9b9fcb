import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0002_name_the_step_of_an_outcome"),
        ("diagnosis", "0004_find_the_place_of_earlier_verdicts"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="SecondLook",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("asked_at", models.DateTimeField()),
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
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="second_look",
                        to="cases.case",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Opinion",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("reviewer_name", models.CharField(max_length=80)),
                (
                    "faults",
                    models.JSONField(help_text="List of {fault, name}, the main one first."),
                ),
                (
                    "sureness",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("sure", "Sure"),
                            ("likely", "Fairly sure"),
                            ("unsure", "Not sure"),
                        ],
                        default="",
                        max_length=6,
                    ),
                ),
                ("given_at", models.DateTimeField()),
                ("closed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="opinions",
                        to="cases.case",
                    ),
                ),
                (
                    "reviewer",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="opinions",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["given_at", "pk"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("case", "reviewer"), name="opinion_once_a_reviewer"
                    )
                ],
            },
        ),
    ]
