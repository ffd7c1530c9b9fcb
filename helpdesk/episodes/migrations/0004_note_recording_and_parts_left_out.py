"""Where the recording of a show begins, and which parts the show went by without."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("episodes", "0003_note_real_times_and_pictures")]

    operations = [
        migrations.AddField(
            model_name="episode",
            name="recording_offset_s",
            field=models.IntegerField(
                default=0,
                help_text=(
                    "Seconds of the recording before the show began; below 0 when it began later."
                ),
            ),
        ),
        migrations.AddField(
            model_name="segment",
            name="was_left_out",
            field=models.BooleanField(
                default=False, help_text="It stood on the sheet, and the show went by without it."
            ),
        ),
    ]
