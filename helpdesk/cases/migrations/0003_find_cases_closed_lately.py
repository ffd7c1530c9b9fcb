from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("cases", "0002_name_the_step_of_an_outcome"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddIndex(
            model_name="case",
            index=models.Index(
                condition=models.Q(("closed_at__isnull", False)),
                fields=["closed_at"],
                name="case_closed",
            ),
        ),
    ]
