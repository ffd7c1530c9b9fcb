"""Let a case be joined to another about the same print."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0006_keep_consent_as_told"),
    ]

    operations = [
        migrations.AddField(
            model_name="case",
            name="joined_to",
            field=models.ForeignKey(
                blank=True,
                help_text="The lead case, when both are about the same print.",
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="joined",
                to="cases.case",
            ),
        ),
        migrations.AddField(
            model_name="case",
            name="joined_with",
            field=models.ForeignKey(
                blank=True,
                help_text="The former lead this case came along with; parting that one takes it along.",
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="+",
                to="cases.case",
            ),
        ),
        migrations.AlterField(
            model_name="case",
            name="queue_rank",
            field=models.SmallIntegerField(
                choices=[
                    (0, "danger"),
                    (1, "our turn"),
                    (2, "the person's turn"),
                    (3, "waiting for the outcome"),
                    (9, "closed"),
                    (10, "joined to another case"),
                ],
                default=1,
            ),
        ),
        migrations.AddConstraint(
            model_name="case",
            constraint=models.CheckConstraint(
                condition=models.Q(("joined_to", models.F("id")), _negated=True),
                name="case_not_joined_to_itself",
            ),
        ),
    ]
