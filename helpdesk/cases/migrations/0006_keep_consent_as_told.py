"""Keep the words of a consent that was told to a reviewer."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0005_name_another_way"),
    ]

    operations = [
        migrations.AddField(
            model_name="consentrecord",
            name="quote",
            field=models.TextField(
                blank=True,
                default="",
                help_text="What the person said, when they told a reviewer.",
            ),
        ),
        migrations.AddField(
            model_name="consentrecord",
            name="quote_where",
            field=models.CharField(blank=True, default="", max_length=80),
        ),
        migrations.AlterField(
            model_name="consentrecord",
            name="wording",
            field=models.CharField(
                help_text="Version of the form's wording, or that it was told.", max_length=20
            ),
        ),
    ]
