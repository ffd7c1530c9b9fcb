import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("diagnosis", "0001_make_diagnosis"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="diagnosisrun",
            name="revision",
            field=models.PositiveIntegerField(
                blank=True,
                help_text="Number in force then; empty for the expert's numbers.",
                null=True,
            ),
        ),
        migrations.CreateModel(
            name="KnowledgeRevision",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("number", models.PositiveIntegerField(unique=True)),
                ("made_at", models.DateTimeField()),
                ("made_by_name", models.CharField(max_length=80)),
                (
                    "expert_version",
                    models.CharField(
                        help_text="Version of the expert's knowledge it was learned on.",
                        max_length=40,
                    ),
                ),
                (
                    "version",
                    models.CharField(help_text="Version of the knowledge it makes.", max_length=40),
                ),
                (
                    "counts",
                    models.JSONField(help_text="What the lessons add to the expert's numbers."),
                ),
                ("digest", models.CharField(help_text="SHA-256 of the counts.", max_length=64)),
                ("lesson_count", models.PositiveIntegerField()),
                (
                    "bases",
                    models.JSONField(help_text="Number of lessons by what their verdict rests on."),
                ),
                (
                    "lessons_digest",
                    models.CharField(help_text="SHA-256 of the lessons.", max_length=64),
                ),
                (
                    "prequential",
                    models.JSONField(help_text="How well each case was foreseen, case by case."),
                ),
                (
                    "missing_links",
                    models.JSONField(
                        help_text="Findings that keep company with a fault although nothing links them."
                    ),
                ),
                ("note", models.TextField(blank=True, default="")),
                (
                    "made_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "parent",
                    models.ForeignKey(
                        blank=True,
                        help_text="The revision in force when this one was made; empty for the expert's numbers.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        to="diagnosis.knowledgerevision",
                    ),
                ),
            ],
            options={
                "ordering": ["number"],
            },
        ),
        migrations.CreateModel(
            name="RevisionSwitch",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField()),
                ("by_name", models.CharField(max_length=80)),
                ("why", models.TextField()),
                (
                    "by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "revision",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="switches",
                        to="diagnosis.knowledgerevision",
                    ),
                ),
            ],
            options={
                "ordering": ["pk"],
            },
        ),
    ]
