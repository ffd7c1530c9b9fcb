"""Send letters in processes that are killed at random moments; a program the test runs.

Prints a JSON object: the ids of the letters written, and of those the desk calls sent at the end.
"""

import argparse
import datetime
import json
import os
import random
import signal
import sys
import time

import django

django.setup()

from django.core.management import call_command  # noqa: E402 - after the set-up
from django.db import connections  # noqa: E402

from helpdesk.cases.models import Case  # noqa: E402
from helpdesk.core import clock  # noqa: E402
from helpdesk.core.jobs import run_due_jobs  # noqa: E402
from helpdesk.core.models import Job, JobState  # noqa: E402
from helpdesk.demo.serving import make_folders  # noqa: E402
from helpdesk.outbox.models import OutgoingMail  # noqa: E402
from helpdesk.outbox.services import queue_mail  # noqa: E402
from tests.factories import make_case  # noqa: E402

LONG_AGO = datetime.timedelta(hours=1)  # beyond every lease


def main() -> None:
    """Make a desk, kill its senders, and let the last one finish."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, required=True)
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    chance = random.Random(wanted.seed)  # noqa: S311 - moments, not secrets
    make_folders()
    call_command("migrate", verbosity=0, interactive=False)
    case = make_case()
    Job.objects.all().delete()
    _write(case, 2)
    longest_s = _time_one_sender()
    for _ in range(wanted.kills):
        _write(case, 2)
        _kill_a_sender(chance.uniform(0, longest_s))
        _let_time_pass()
    while Job.objects.exclude(state=JobState.DONE).exists():
        run_due_jobs()
        _let_time_pass()
    mails = OutgoingMail.objects.all()
    written = list(mails.values_list("message_id", flat=True))
    sent = list(mails.filter(sent_at__isnull=False).values_list("message_id", flat=True))
    sys.stdout.write(json.dumps({"written": written, "sent": sent}))


def _write(case: Case, count: int) -> None:
    for _ in range(count):
        number = OutgoingMail.objects.count()
        queue_mail(
            case,
            kind="answer",
            subject=f"Letter {number}",
            text="Close the window. {private_link}",
            dedupe_key=f"kill:{number}",
        )


def _time_one_sender() -> float:
    """Return how long a process takes that is left alone, in seconds."""
    began = time.monotonic()
    os.waitpid(_start_sender(), 0)
    return time.monotonic() - began


def _kill_a_sender(after_s: float) -> None:
    pid = _start_sender()
    time.sleep(after_s)
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)


def _start_sender() -> int:
    connections.close_all()  # a database connection does not survive a fork
    pid = os.fork()
    if pid == 0:
        try:
            run_due_jobs()
        finally:
            os._exit(0)
    return pid


def _let_time_pass() -> None:
    """Put every lease and claim into the past, as waiting would; attempts begin anew."""
    past = clock.now() - LONG_AGO
    Job.objects.filter(state=JobState.RUNNING).update(lease_until=past, attempts=0)
    Job.objects.filter(state=JobState.WAITING).update(run_after=past, attempts=0)
    OutgoingMail.objects.filter(sending_at__isnull=False).update(sending_at=past)


if __name__ == "__main__":
    main()
