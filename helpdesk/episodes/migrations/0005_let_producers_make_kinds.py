from django.db import migrations, models
from django.db.models.deletion import PROTECT

KINDS = [
    ("tease", "Tease"),
    ("hello", "Hello"),
    ("case", "Case"),
    ("notice", "Notice"),
    ("thanks", "Supporters’ thanks"),
    ("call", "Call for reports"),
    ("farewell", "Farewell"),
    ("own", "A kind of our own"),
]
STANDS = [
    ("opening", "at the start, before the first case"),
    ("cases", "among the cases"),
    ("closing", "after the last case"),
]


class Migration(migrations.Migration):
    dependencies = [("episodes", "0004_note_recording_and_parts_left_out")]

    operations = [
        migrations.CreateModel(
            name="PartKind",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=40, unique=True)),
                ("usual_s", models.PositiveIntegerField(default=30, verbose_name="usual seconds")),
                ("stands", models.CharField(choices=STANDS, default="closing", max_length=8)),
            ],
            options={"ordering": ["name"]},
        ),
        migrations.AlterField(
            model_name="segment",
            name="kind",
            field=models.CharField(choices=KINDS, max_length=8),
        ),
        migrations.AddField(
            model_name="segment",
            name="own_kind",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=PROTECT,
                related_name="segments",
                to="episodes.partkind",
            ),
        ),
    ]
