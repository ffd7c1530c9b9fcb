"""Know the channels of cases as they are now."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("hooks", "0001_make_hooks"),
    ]

    operations = [
        migrations.AlterField(
            model_name="hooksource",
            name="channel",
            field=models.CharField(
                choices=[
                    ("web", "web form"),
                    ("mail", "e-mail"),
                    ("chat", "chat server"),
                    ("direct", "direct message"),
                    ("social", "social post"),
                    ("person", "in person"),
                    ("other", "another way"),
                ],
                default="chat",
                max_length=10,
            ),
        ),
    ]
