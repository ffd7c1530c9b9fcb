"""Name letters that ask a maker for a reply."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("outbox", "0004_claim_letters_before_sending"),
    ]

    operations = [
        migrations.AlterField(
            model_name="outgoingmail",
            name="kind",
            field=models.CharField(
                choices=[
                    ("receipt", "receipt"),
                    ("question", "question"),
                    ("answer", "answer"),
                    ("follow_up", "follow-up"),
                    ("featured", "featured"),
                    ("reply", "asking a maker for a reply"),
                ],
                max_length=10,
            ),
        ),
    ]
