"""A desk of its own in another process, for tests that need real files, threads and kills.

Run as ``python -m tests.helpdesk.core.worker_process COMMAND`` with PRINTWARD_DATA set. Handlers
write one line per effect to the file "effects" in that folder.
"""

import datetime
import os
import sys
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "helpdesk.config.settings.dev")
django.setup()

from django.core.management import call_command  # noqa: E402 - apps have to be loaded first
from django.db import connection  # noqa: E402

from helpdesk.config import celery_app  # noqa: E402
from helpdesk.core import clock, jobs  # noqa: E402
from helpdesk.core.models import Job  # noqa: E402

FOLDER = Path(os.environ["PRINTWARD_DATA"])
STUCK_S = 60.0
RACERS = 10

# A person would not wait six minutes for a test; the proportions stay as they are in service.
jobs.LEASE = datetime.timedelta(seconds=3)
jobs.RESEND_AFTER = datetime.timedelta(seconds=1)
celery_app.conf.beat_schedule = {
    "resend-stale-jobs": {"task": "helpdesk.core.tasks.resend_stale_jobs", "schedule": 0.5}
}


@jobs.job_handler("slow")
def be_slow(payload: Mapping[str, Any]) -> None:
    """Note the beginning, hang the first time, note the effect."""
    is_first = not (FOLDER / "begun").exists()
    (FOLDER / "begun").write_text(str(os.getpid()))
    if is_first:
        time.sleep(STUCK_S)
    _note("done")


@jobs.job_handler("race")
def race(payload: Mapping[str, Any]) -> None:
    """Note the effect, slowly enough that every racer has started."""
    time.sleep(0.05)
    _note("raced")


def _note(words: str) -> None:
    with (FOLDER / "effects").open("a") as file:
        file.write(words + "\n")


def _start(kind: str) -> int:
    now = clock.now()
    return Job.objects.create(kind=kind, key=kind, payload={}, run_after=now, created_at=now).pk


def _race() -> None:
    """Let ten threads, each with its own connection, go for one row at once."""
    job_id = _start("race")
    barrier = threading.Barrier(RACERS)

    def run() -> None:
        barrier.wait()
        try:
            won = jobs.run_job(job_id)
        finally:
            connection.close()
        if won:
            _note("won")

    threads = [threading.Thread(target=run) for _ in range(RACERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def main(command: str) -> None:
    """Do what the test asks of this process."""
    if command == "prepare":
        call_command("migrate", verbosity=0)
        jobs.start_job("slow", key="slow", payload={})
    elif command == "race":
        call_command("migrate", verbosity=0)
        _race()
    elif command == "work":
        celery_app.worker_main(
            ["worker", "--beat", "--pool=solo", "--loglevel=warning", "--without-mingle"]
        )
    elif command == "state":
        row = Job.objects.get()
        sys.stdout.write(f"{row.state} {row.attempts}\n")


if __name__ == "__main__":
    main(sys.argv[1])
