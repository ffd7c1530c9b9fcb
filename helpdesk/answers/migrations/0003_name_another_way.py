"""Know a channel for what went another way."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("answers", "0002_keep_earlier_text_and_shown_photos"),
    ]

    operations = [
        migrations.AlterField(
            model_name="answer",
            name="sent_via",
            field=models.CharField(
                blank=True,
                choices=[
                    ("web", "web form"),
                    ("mail", "e-mail"),
                    ("chat", "chat server"),
                    ("direct", "direct message"),
                    ("social", "social post"),
                    ("person", "in person"),
                    ("other", "another way"),
                ],
                default="",
                max_length=10,
            ),
        ),
    ]
