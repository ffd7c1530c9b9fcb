"""A desk that is killed while it takes and sends messages loses none and does nothing twice."""

import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]


def test_killed_desk_loses_no_message_and_takes_none_twice() -> None:
    """What was answered yes is there once; what was sent twice has the same id both times."""
    command = [sys.executable, str(ROOT / "tests/helpdesk/hooks/kills.py"), "--kills", "6"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=500)  # noqa: S603

    assert done.returncode == 0, done.stdout + done.stderr[-2000:]
    assert json.loads(done.stdout)["killed"] == 6
