"""Senders killed at random moments lose no letter, and repeat one only under its own id."""

import json
import os
import subprocess
import sys
from collections import Counter
from email import message_from_bytes
from pathlib import Path
from typing import Any

from django.conf import settings as django_settings

from tests.helpdesk.outbox.conftest import Post

KILLS = int(os.environ.get("DESK_KILLS", "10"))  # more, where there is time for it


def test_no_letter_is_lost_or_sent_under_two_ids(post: Post, settings: Any, tmp_path: Path) -> None:
    """Every letter arrives; a copy carries the Message-ID of the first (RFC 5322 section 3.6.4).

    Where a process dies between the server's yes and the row, SMTP lets nobody know whether the
    letter was taken (RFC 1047), so some copies are to be expected, but far fewer than kills.
    """
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "helpdesk.config.settings.dev",
        "PRINTWARD_DATA": str(tmp_path / "desk"),
        "PRINTWARD_DATABASE": "",
        "PRINTWARD_REDIS": "",
        "PRINTWARD_SMTP_HOST": "127.0.0.1",
        "PRINTWARD_SMTP_PORT": str(settings.EMAIL_PORT),
        "PRINTWARD_SMTP_STARTTLS": "no",
    }

    done = subprocess.run(  # noqa: S603 - our own program
        [sys.executable, "-m", "tests.helpdesk.outbox.kill_sender", "--kills", str(KILLS)],
        cwd=django_settings.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60 + 5 * KILLS,
        check=False,
    )

    assert done.returncode == 0, done.stderr[-2000:]
    told = json.loads(done.stdout)
    arrived = Counter(str(message_from_bytes(raw)["Message-ID"]) for raw in post.raw)
    copies = arrived.total() - len(arrived)
    assert len(told["written"]) >= 2 * KILLS
    assert set(told["sent"]) == set(told["written"])
    assert set(arrived) == set(told["written"])
    assert max(arrived.values()) <= 3
    assert copies <= KILLS // 4, copies
    sys.stdout.write(f"{KILLS} kills, {len(arrived)} letters, {copies} copies\n")
