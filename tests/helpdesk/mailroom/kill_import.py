"""Import letters in processes that are killed at random moments; a program the test runs.

It needs the environment of a desk of its own: DJANGO_SETTINGS_MODULE=helpdesk.config.settings.dev,
PRINTWARD_DATA=(a new folder), PRINTWARD_DATABASE= and PRINTWARD_LIMIT_MAIL_RECEIPTS=0. Then

    python -m tests.helpdesk.mailroom.kill_import --kills 200

Every life imports the same growing mbox file: what the life before had done must stay done once.
Prints a JSON object of counts and ends with status 1 where a letter was lost or taken twice.
"""

import argparse
import io
import json
import os
import random
import signal
import sys
import time
from collections import Counter
from pathlib import Path

import django

django.setup()

from django.conf import settings  # noqa: E402 - after the set-up
from django.core.management import call_command  # noqa: E402
from django.db import connections  # noqa: E402

from helpdesk.cases.models import Case, Message, Report  # noqa: E402
from helpdesk.demo.serving import make_folders  # noqa: E402
from helpdesk.mailroom.models import IncomingMail, MailState  # noqa: E402
from helpdesk.outbox.models import MailKind, OutgoingMail  # noqa: E402
from helpdesk.photos.models import Photo  # noqa: E402
from tests.helpdesk.mailroom.letters import letter  # noqa: E402

AHEAD = 12  # letters at the first life; each life brings LETTERS more
LETTERS = 2
WITH_PHOTO = 3  # every third letter
REPLY = 5  # every fifth letter answers the one before


def main() -> int:
    """Make a desk, kill its imports, let the last one finish, and count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, required=True)
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    chance = random.Random(wanted.seed)  # noqa: S311 - moments, not secrets
    make_folders()
    call_command("migrate", verbosity=0, interactive=False)
    path = Path(settings.DATA_DIR) / "letters.mbox"
    written = _write(path, 0, AHEAD)
    longest_s = _time_one_import(path)
    killed = 0
    while killed < wanted.kills:
        written = _write(path, written, LETTERS)
        killed += _kill_an_import(path, chance.uniform(0, longest_s))
    for _ in range(2):  # the second finds nothing to do
        os.waitpid(_start_import(path), 0)
    return _count(written, killed)


def _write(path: Path, start: int, count: int) -> int:
    """Add letters to the file; return how many it holds now."""
    with path.open("ab") as file:
        for number in range(start, start + count):
            is_reply = number % REPLY == REPLY - 1
            sender = number - 1 if is_reply else number
            more = {"In-Reply-To": f"<{sender}.kill@tarnstreet.example>"} if is_reply else {}
            raw = letter(
                f"The corners of box {number} curl up after an hour.",
                sender=f"Person {sender} <person{sender}@tarnstreet.example>",
                message_id=f"<{number}.kill@tarnstreet.example>",
                photos=int(number % WITH_PHOTO == 0),
                more=more,
            )
            file.write(b"From person Wed Nov 18 10:30:00 2026\n" + raw + b"\n")
    return start + count


def _time_one_import(path: Path) -> float:
    """Return how long an import takes that is left alone, in seconds."""
    began = time.monotonic()
    os.waitpid(_start_import(path), 0)
    return time.monotonic() - began


def _kill_an_import(path: Path, after_s: float) -> int:
    """Kill an import after a time; return 1 when it was still at work."""
    pid = _start_import(path)
    time.sleep(after_s)
    os.kill(pid, signal.SIGKILL)
    return int(os.WIFSIGNALED(os.waitpid(pid, 0)[1]))


def _start_import(path: Path) -> int:
    connections.close_all()  # a database connection does not survive a fork
    pid = os.fork()
    if pid == 0:
        try:
            call_command("import_mail", str(path), stdout=io.StringIO())
        finally:
            os._exit(0)
    return pid


def _count(written: int, killed: int) -> int:
    """Print what came of it; return 1 if a letter was lost or had two effects."""
    replies = sum(1 for n in range(written) if n % REPLY == REPLY - 1)
    with_photo = sum(1 for n in range(written) if n % WITH_PHOTO == 0)
    receipts = Counter(
        OutgoingMail.objects.filter(kind=MailKind.RECEIPT).values_list("case", flat=True)
    )
    found = {
        "letters": IncomingMail.objects.count(),
        "letters taken": IncomingMail.objects.filter(state=MailState.TAKEN).count(),
        "cases": Case.objects.count(),
        "reports": Report.objects.count(),
        "replies": Message.objects.filter(kind="reply").count(),
        "photos": Photo.objects.count(),
        "cases with a receipt": len(receipts),
        "most receipts of a case": max(receipts.values(), default=0),
    }
    expected = {
        "letters": written,
        "letters taken": written,
        "cases": written - replies,
        "reports": written - replies,
        "replies": replies,
        "photos": with_photo,
        "cases with a receipt": written - replies,
        "most receipts of a case": 1,
    }
    wrong = {name: (found[name], expected[name]) for name in found if found[name] != expected[name]}
    sys.stdout.write(json.dumps({"killed": killed, **found, "wrong": wrong}) + "\n")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
