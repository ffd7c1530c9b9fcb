"""Tell what a person says was misread from what they answer."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0006_keep_respondent")]

    operations = [
        migrations.AlterField(
            model_name="findingmark",
            name="source",
            field=models.CharField(
                choices=[
                    ("reviewer", "reviewer"),
                    ("person", "their answer"),
                    ("misread", "their words, misread"),
                ],
                default="reviewer",
                max_length=8,
            ),
        ),
    ]
