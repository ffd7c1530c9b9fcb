from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0002_number_revisions_of_the_knowledge")]

    operations = [
        migrations.AddField(
            model_name="verdict",
            name="desk_place",
            field=models.PositiveSmallIntegerField(
                blank=True,
                help_text="Place in the desk's ranking when it was confirmed; empty when not ranked.",
                null=True,
            ),
        ),
    ]
