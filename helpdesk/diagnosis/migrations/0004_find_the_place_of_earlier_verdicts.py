from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def find_places(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Take each place from the last run stored before the verdict was set."""
    runs = apps.get_model("diagnosis", "DiagnosisRun")
    verdicts = apps.get_model("diagnosis", "Verdict")
    for verdict in verdicts.objects.filter(desk_place=None).iterator():
        earlier = runs.objects.filter(case=verdict.case_id, made_at__lte=verdict.set_at)
        run = earlier.order_by("-made_at", "-pk").first()
        ranking = run.result["ranking"] if run else []
        places = {row[0]: place for place, row in enumerate(ranking, start=1)}
        verdict.desk_place = places.get(verdict.fault)
        verdict.save(update_fields=["desk_place"])


class Migration(migrations.Migration):
    dependencies = [("diagnosis", "0003_keep_the_place_of_a_verdict")]

    # Going back drops the column, so there is nothing to undo.
    operations = [migrations.RunPython(find_places, migrations.RunPython.noop)]
