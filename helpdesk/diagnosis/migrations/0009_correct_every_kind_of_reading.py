"""Let every kind of reading be corrected, and keep what the reader missed."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0008_keep_corrections_of_readings")]

    operations = [
        migrations.RemoveConstraint(
            model_name="readingcorrection", name="correction_once_a_finding"
        ),
        migrations.RenameField(model_name="readingcorrection", old_name="finding", new_name="name"),
        migrations.AlterField(
            model_name="readingcorrection",
            name="name",
            field=models.CharField(help_text="Id of what was read.", max_length=60),
        ),
        migrations.AddField(
            model_name="readingcorrection",
            name="kind",
            field=models.CharField(
                choices=[
                    ("finding", "finding"),
                    ("risk", "circumstance"),
                    ("tried", "tried remedy"),
                    ("guess", "guessed cause"),
                    ("danger", "danger"),
                    ("fact", "fact"),
                ],
                default="finding",
                max_length=7,
            ),
        ),
        migrations.AddField(
            model_name="readingcorrection",
            name="is_missed",
            field=models.BooleanField(
                default=False, help_text="The desk read nothing in the words."
            ),
        ),
        migrations.AlterField(
            model_name="readingcorrection",
            name="state",
            field=models.CharField(
                blank=True,
                choices=[("present", "present"), ("absent", "absent"), ("unknown", "unknown")],
                default="",
                help_text="What was read of a finding: present or absent.",
                max_length=7,
            ),
        ),
        migrations.AddConstraint(
            model_name="readingcorrection",
            constraint=models.UniqueConstraint(
                fields=("case", "kind", "name", "is_missed"), name="correction_once_a_reading"
            ),
        ),
    ]
