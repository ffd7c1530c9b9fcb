from django.db import migrations, models
from django.db.models.deletion import CASCADE


class Migration(migrations.Migration):
    dependencies = [("episodes", "0006_let_two_write_one_sheet")]

    operations = [
        migrations.AlterField(
            model_name="episode",
            name="words_per_minute",
            field=models.PositiveSmallIntegerField(
                default=175, help_text="For whoever was not measured yet."
            ),
        ),
        migrations.CreateModel(
            name="PresenterRate",
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
                        help_text="The name without its case.", max_length=80, unique=True
                    ),
                ),
                ("presenter", models.CharField(max_length=80)),
                ("words", models.PositiveIntegerField(default=0)),
                ("seconds", models.FloatField(default=0)),
            ],
            options={"ordering": ["presenter", "pk"]},
        ),
        migrations.CreateModel(
            name="SpokenPart",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("key", models.CharField(max_length=120, unique=True)),
                ("words", models.PositiveIntegerField()),
                ("seconds", models.FloatField()),
                (
                    "rate",
                    models.ForeignKey(
                        on_delete=CASCADE, related_name="spoken", to="episodes.presenterrate"
                    ),
                ),
            ],
            options={"ordering": ["pk"]},
        ),
    ]
