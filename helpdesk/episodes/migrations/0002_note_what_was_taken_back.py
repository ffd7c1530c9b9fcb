"""Note for the producer what people took back."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0008_let_people_give_up"),
        ("episodes", "0001_make_episodes"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Withdrawal",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "key",
                    models.CharField(
                        help_text="What took it back, and where.", max_length=120, unique=True
                    ),
                ),
                (
                    "use",
                    models.CharField(
                        choices=[("photos", "photos"), ("name", "name")], max_length=8
                    ),
                ),
                ("noted_at", models.DateTimeField()),
                ("episode_number", models.PositiveIntegerField(blank=True, null=True)),
                (
                    "shown_at_s",
                    models.PositiveIntegerField(
                        blank=True,
                        help_text="The second it was shown; empty when it was not.",
                        null=True,
                    ),
                ),
                ("seen_at", models.DateTimeField(blank=True, null=True)),
                (
                    "case",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="withdrawals",
                        to="cases.case",
                    ),
                ),
                (
                    "seen_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-noted_at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("use__in", ["photos", "name"])),
                        name="withdrawal_use_known",
                    )
                ],
            },
        ),
    ]
