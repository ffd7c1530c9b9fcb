"""Care of the embedded database."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from django.db import connection

from helpdesk.core.database import empty_write_ahead_log

ROOT = Path(__file__).parents[3]


@pytest.fixture
def on_a_desk(tmp_path: Path) -> Callable[[str], str]:
    """Return a function that runs statements on a new desk in its own folder."""

    def run(statements: str) -> str:
        environment = {
            **{k: v for k, v in os.environ.items() if not k.startswith("PRINTWARD_")},
            "PRINTWARD_DATA": str(tmp_path),
            "DJANGO_SETTINGS_MODULE": "helpdesk.config.settings.dev",
        }
        told = ""
        for command in (["migrate", "-v0"], ["shell", "-v0", "-c", statements]):
            done = subprocess.run(  # noqa: S603 - our own command
                [sys.executable, "manage.py", *command],
                cwd=ROOT,
                env=environment,
                capture_output=True,
                text=True,
                check=True,
            )
            told += done.stdout
        return told

    return run


@pytest.mark.django_db
def test_log_is_left_alone_inside_a_transaction() -> None:
    """A checkpoint inside a transaction would be refused by the database."""
    assert empty_write_ahead_log() is False


@pytest.mark.skipif(connection.vendor != "sqlite", reason="only SQLite has this log")
def test_erased_words_are_in_no_file(tmp_path: Path, on_a_desk: Callable[[str], str]) -> None:
    """After deletion and an emptied log neither database nor log holds the words."""
    told = on_a_desk(
        "from helpdesk.core.models import Job; from helpdesk.core import clock;"
        "from helpdesk.core.database import empty_write_ahead_log;"
        "now = clock.now();"
        "jobs = [Job.objects.create(kind='zanzibarquince' * 4, key=f'k{n}',"
        " run_after=now, created_at=now) for n in range(200)];"
        "Job.objects.all().delete(); print('emptied', empty_write_ahead_log())"
    )

    assert "emptied True" in told
    for name in ("desk.sqlite3", "desk.sqlite3-wal"):
        path = tmp_path / name
        assert not path.exists() or b"zanzibarquince" not in path.read_bytes()
