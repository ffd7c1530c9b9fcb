"""Know a channel for what came another way."""

from django.db import migrations, models

CHANNELS = [
    ("web", "web form"),
    ("mail", "e-mail"),
    ("chat", "chat server"),
    ("direct", "direct message"),
    ("social", "social post"),
    ("person", "in person"),
    ("other", "another way"),
]


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0004_tell_the_route_of_words"),
    ]

    operations = [
        migrations.AlterField(
            model_name="case",
            name="channel",
            field=models.CharField(choices=CHANNELS, default="web", max_length=10),
        ),
        migrations.AlterField(
            model_name="case",
            name="reply_channel",
            field=models.CharField(choices=CHANNELS, default="mail", max_length=10),
        ),
        migrations.AlterField(
            model_name="report",
            name="channel",
            field=models.CharField(choices=CHANNELS, default="web", max_length=10),
        ),
        migrations.AlterField(
            model_name="message",
            name="channel",
            field=models.CharField(
                blank=True,
                choices=CHANNELS,
                default="",
                help_text="The route it came or went.",
                max_length=10,
            ),
        ),
    ]
