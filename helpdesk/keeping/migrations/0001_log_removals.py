"""Keep a log of what was removed."""

from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="RemovalRecord",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "kind",
                    models.CharField(
                        help_text="What went: cases, letters, originals, …", max_length=30
                    ),
                ),
                ("count", models.PositiveIntegerField()),
                (
                    "rule",
                    models.CharField(
                        help_text="Why it went, such as a time of keeping.", max_length=120
                    ),
                ),
                ("at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("count__gte", 1)), name="removal_of_something"
                    )
                ],
            },
        ),
    ]
