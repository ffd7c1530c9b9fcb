"""Find the cases that came in some weeks without reading all of them."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("cases", "0008_let_people_give_up")]

    operations = [
        migrations.AddIndex(
            model_name="case",
            index=models.Index(fields=["opened_at"], name="case_came"),
        ),
    ]
