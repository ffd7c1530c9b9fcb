"""Let an answer be one that was passed on to a joined case."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("answers", "0003_name_another_way"),
    ]

    operations = [
        migrations.AddField(
            model_name="answer",
            name="copy_of",
            field=models.ForeignKey(
                blank=True,
                help_text="The lead case's answer that this one passes on.",
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="copies",
                to="answers.answer",
            ),
        ),
    ]
