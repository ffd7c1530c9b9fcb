"""Keep tables that are brought in, and the rows that were refused."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import helpdesk.capture.models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="TableImport",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "label",
                    models.CharField(help_text="The file's name, as a label only.", max_length=120),
                ),
                (
                    "file",
                    models.FileField(
                        blank=True,
                        max_length=200,
                        storage=helpdesk.capture.models.table_storage,
                        upload_to="",
                    ),
                ),
                ("made_at", models.DateTimeField()),
                ("encoding", models.CharField(max_length=20)),
                ("delimiter", models.CharField(max_length=1)),
                ("header", models.JSONField(help_text="The names of the columns, in order.")),
                (
                    "remarks",
                    models.JSONField(default=list, help_text="What was not sure when it was read."),
                ),
                (
                    "columns",
                    models.JSONField(
                        help_text="What each column is, in order; empty for left out."
                    ),
                ),
                ("date_order", models.CharField(blank=True, default="", max_length=3)),
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
                        default="other",
                        max_length=10,
                    ),
                ),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("draft", "being looked at"),
                            ("running", "being brought in"),
                            ("done", "done"),
                        ],
                        default="draft",
                        max_length=8,
                    ),
                ),
                (
                    "rows",
                    models.PositiveIntegerField(
                        default=0, help_text="How many rows are to be looked at."
                    ),
                ),
                (
                    "position",
                    models.PositiveIntegerField(default=0, help_text="How many were looked at."),
                ),
                ("made", models.PositiveIntegerField(default=0)),
                ("known", models.PositiveIntegerField(default=0)),
                ("refused", models.PositiveIntegerField(default=0)),
                ("finished_at", models.DateTimeField(blank=True, null=True)),
                (
                    "made_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-pk"],
            },
        ),
        migrations.CreateModel(
            name="RefusedRow",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "number",
                    models.PositiveIntegerField(help_text="Its place among the rows, from 1."),
                ),
                ("line", models.PositiveIntegerField(help_text="The line of the file it ends on.")),
                ("cells", models.JSONField()),
                ("why", models.TextField()),
                (
                    "table",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="refused_rows",
                        to="capture.tableimport",
                    ),
                ),
            ],
            options={
                "ordering": ["number"],
                "constraints": [
                    models.UniqueConstraint(fields=("table", "number"), name="refused_row_once")
                ],
            },
        ),
    ]
