"""One more thing a person may say of a print: that they gave it up."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("cases", "0007_join_cases")]

    operations = [
        migrations.AlterField(
            model_name="outcome",
            name="result",
            field=models.CharField(
                choices=[
                    ("worked", "Worked"),
                    ("partly", "Helped a little"),
                    ("failed", "Did not work"),
                    ("untried", "Not tried"),
                    ("gave_up", "Gave up"),
                ],
                max_length=8,
            ),
        ),
    ]
