from django.conf import settings
from django.db import migrations, models
from django.db.models.deletion import SET_NULL


class Migration(migrations.Migration):
    dependencies = [
        ("episodes", "0005_let_producers_make_kinds"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterField(
            model_name="episode",
            name="version",
            field=models.PositiveIntegerField(
                default=1, help_text="Counts every change of the sheet: parts, order, times."
            ),
        ),
        migrations.AddField(
            model_name="episode",
            name="details_version",
            field=models.PositiveIntegerField(
                default=1, help_text="Counts changes of the episode’s own fields alone."
            ),
        ),
        migrations.AddField(
            model_name="segment",
            name="version",
            field=models.PositiveIntegerField(
                default=1,
                help_text="Counts changes of this part’s words, so that two writers see both.",
            ),
        ),
        migrations.AddField(
            model_name="segment",
            name="edited_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="segment",
            name="edited_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=SET_NULL,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
    ]
