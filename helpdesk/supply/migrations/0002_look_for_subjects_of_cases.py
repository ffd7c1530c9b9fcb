"""Ask for the makers and lots that the cases there are already name."""

from typing import Any

from django.db import migrations
from django.utils import timezone

KEY = "note-all-subjects:0"


def ask(apps: Any, schema_editor: Any) -> None:
    """Write the job that links the first cases; each asks for the next."""
    if not apps.get_model("cases", "Case").objects.exists():
        return
    now = timezone.now()
    apps.get_model("core", "Job").objects.get_or_create(
        key=KEY,
        defaults={
            "kind": "note-all-subjects",
            "payload": {"after": 0},
            "created_at": now,
            "run_after": now,
        },
    )


def forget(apps: Any, schema_editor: Any) -> None:
    """Take the job back; what it linked goes with the tables."""
    apps.get_model("core", "Job").objects.filter(key__startswith="note-all-subjects:").delete()


class Migration(migrations.Migration):
    dependencies = [
        ("supply", "0001_make_supply"),
        ("core", "0001_make_core"),
        ("cases", "0001_make_cases"),
    ]

    operations = [migrations.RunPython(ask, forget)]
