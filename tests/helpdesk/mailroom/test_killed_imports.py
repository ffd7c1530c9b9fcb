"""An import killed at random moments loses no letter and takes none twice."""

import json
import os
import subprocess
import sys
from pathlib import Path

from django.conf import settings

KILLS = int(os.environ.get("DESK_KILLS", "8"))  # more, where there is time for it


def test_killed_import_loses_no_letter_and_takes_none_twice(tmp_path: Path) -> None:
    """Each letter is one report or reply with its photo and one receipt, however often it died."""
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "helpdesk.config.settings.dev",
        "PRINTWARD_DATA": str(tmp_path),
        "PRINTWARD_DATABASE": "",
        "PRINTWARD_REDIS": "",
        "PRINTWARD_LIMIT_MAIL_RECEIPTS": "0",  # a receipt for every letter
    }

    done = subprocess.run(  # noqa: S603 - our own program
        [sys.executable, "-m", "tests.helpdesk.mailroom.kill_import", "--kills", str(KILLS)],
        cwd=settings.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120 + 5 * KILLS,
        check=False,
    )

    assert done.returncode == 0, done.stdout + done.stderr[-2000:]
    assert json.loads(done.stdout)["killed"] == KILLS
