"""Make the recurring texts."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="SetText",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("title", models.CharField(max_length=80, unique=True)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("question", "Question"),
                            ("answer", "Part of an answer"),
                            ("closing", "Closing"),
                            ("chat", "Note to a chat"),
                        ],
                        max_length=10,
                    ),
                ),
                ("body", models.TextField(max_length=4000)),
                ("version", models.PositiveIntegerField(default=1)),
                ("edited_at", models.DateTimeField()),
                (
                    "edited_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={"ordering": ["kind", "title"]},
        ),
    ]
