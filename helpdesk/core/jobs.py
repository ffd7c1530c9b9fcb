"""Start, run, re-send and give up work that must happen.

A job's handler is registered by the app that owns the work, in its tasks module, and must be safe
to run twice: a worker may die after the effect and before the row says done.
"""

import contextlib
import datetime
import logging
import re
from collections.abc import Callable, Iterator, Mapping
from contextvars import ContextVar
from functools import partial
from typing import Any

from django.db import transaction
from django.db.models import F, Q, QuerySet

from helpdesk.core import clock
from helpdesk.core.models import Job, JobState

LEASE = datetime.timedelta(minutes=6)  # above the worker's hard limit of five minutes
MAX_ATTEMPTS = 8
FIRST_PAUSE_S = 20
LONGEST_PAUSE_S = 3600
RESEND_AFTER = datetime.timedelta(seconds=30)
RESEND_BATCH = 500
ERROR_LIMIT = 2000  # characters
_MAIL_ADDRESS = re.compile(r"[^\s@<>()'\"]+@[^\s@<>()'\"]+")

Handler = Callable[[Mapping[str, Any]], None]
Round = Callable[[], None]
logger = logging.getLogger(__name__)
_hints: ContextVar[bool] = ContextVar("hints", default=True)
_handlers: dict[str, Handler] = {}
_rounds: dict[str, Round] = {}


def job_handler(kind: str) -> Callable[[Handler], Handler]:
    """Register the function that does jobs of a kind; it gets the payload."""

    def register(handler: Handler) -> Handler:
        _handlers[kind] = handler
        return handler

    return register


def regular_round(name: str) -> Callable[[Round], Round]:
    """Register a function that the worker calls every ten minutes; it must be cheap when idle."""

    def register(function: Round) -> Round:
        _rounds[name] = function
        return function

    return register


def run_rounds() -> None:
    """Call every registered round; one that fails does not stop the others."""
    for name, function in _rounds.items():
        try:
            function()
        except Exception:  # one broken round must not starve the rest; it is logged
            logger.exception("Round %s failed", name)


def start_job(
    kind: str,
    *,
    key: str,
    payload: Mapping[str, Any],
    run_after: datetime.datetime | None = None,
) -> Job:
    """Write a job row in the caller's transaction and tell a worker once it is committed.

    `key` names the effect: the same key twice is the same job.
    """
    now = clock.now()
    job, is_new = Job.objects.get_or_create(
        key=key,
        defaults={
            "kind": kind,
            "payload": dict(payload),
            "run_after": run_after or now,
            "created_at": now,
        },
    )
    if is_new and job.run_after <= now and _hints.get():
        transaction.on_commit(partial(_tell_worker, job.pk))
    return job


@contextlib.contextmanager
def without_hints() -> Iterator[None]:
    """Start jobs in bulk without a hint for each: the sweep finds them within seconds."""
    token = _hints.set(False)
    try:
        yield
    finally:
        _hints.reset(token)


def run_job(job_id: int) -> bool:
    """Do one job if it is due and nobody else holds it; return True when it ran."""
    if not _claim(job_id):
        return False
    job = Job.objects.get(pk=job_id)
    if job.attempts > MAX_ATTEMPTS:  # every attempt so far took its worker down with it
        _give_up(job, "The worker died at every attempt.")
        return False
    handler = _handlers.get(job.kind)
    try:
        if handler is None:
            raise LookupError(f"No handler for jobs of kind {job.kind!r}")
        handler(job.payload)
    except Exception as error:  # whatever a handler raises, the row must stay retryable
        logger.exception("Job %s failed", job.key)
        _put_back(job, error)
        return True
    _held(job).update(state=JobState.DONE, finished_at=clock.now(), lease_until=None, last_error="")
    return True


def run_due_jobs(*, limit: int = RESEND_BATCH) -> int:
    """Do every job that is due in this process; return how many ran."""
    ran = 0
    for job_id in list(_due().values_list("pk", flat=True)[:limit]):
        ran += run_job(job_id)
    return ran


def resend_stale_jobs() -> int:
    """Tell a worker again about rows that are due and were not done; return how many."""
    before = clock.now() - RESEND_AFTER
    stale = list(_due().filter(run_after__lte=before).values_list("pk", flat=True)[:RESEND_BATCH])
    for job_id in stale:
        _tell_worker(job_id)
    return len(stale)


def list_failing_jobs() -> QuerySet[Job]:
    """Return the jobs given up and those that failed and will be tried again, latest first."""
    given_up = Q(state=JobState.FAILED)
    trying = Q(state__in=(JobState.WAITING, JobState.RUNNING)) & ~Q(last_error="")
    return Job.objects.filter(given_up | trying).order_by("-run_after", "-pk")


def retry_failed(job: Job) -> bool:
    """Give a job that was given up another series of attempts; False when it was not given up."""
    is_mine = Job.objects.filter(pk=job.pk, state=JobState.FAILED).update(
        state=JobState.WAITING, attempts=0, run_after=clock.now()
    )
    if is_mine:
        transaction.on_commit(partial(_tell_worker, job.pk))
    return bool(is_mine)


def _due() -> QuerySet[Job]:
    """Return the rows a worker may take now, oldest first."""
    now = clock.now()
    free = Q(state=JobState.WAITING) | Q(state=JobState.RUNNING, lease_until__lt=now)
    return Job.objects.filter(free, run_after__lte=now).order_by("run_after", "pk")


def _claim(job_id: int) -> bool:
    """Take a job for this process; False when it is done, held or not due."""
    now = clock.now()
    return bool(
        _due()
        .order_by()
        .filter(pk=job_id)
        .update(state=JobState.RUNNING, lease_until=now + LEASE, attempts=F("attempts") + 1)
    )


def _held(job: Job) -> QuerySet[Job]:
    """Return the row while it is still this attempt's.

    A worker that stalled past its lease finds the next attempt's number here, or none, and so
    cannot undo what another worker wrote.
    """
    return Job.objects.filter(pk=job.pk, state=JobState.RUNNING, attempts=job.attempts)


def _put_back(job: Job, error: Exception) -> None:
    """Plan the next attempt with growing pauses, or give the job up for a person to see."""
    words = f"{type(error).__name__}: {error}"
    if job.attempts >= MAX_ATTEMPTS:
        _give_up(job, words)
        return
    pause_s = min(LONGEST_PAUSE_S, FIRST_PAUSE_S * 2 ** (job.attempts - 1))
    _held(job).update(
        state=JobState.WAITING,
        run_after=clock.now() + datetime.timedelta(seconds=pause_s),
        lease_until=None,
        last_error=without_addresses(words)[:ERROR_LIMIT],
    )


def _give_up(job: Job, words: str) -> None:
    """Leave a job for a person to see."""
    _held(job).update(
        state=JobState.FAILED, lease_until=None, last_error=without_addresses(words)[:ERROR_LIMIT]
    )


def without_addresses(words: str) -> str:
    """Return an error's words without mail addresses, which outlive their person's erasure."""
    return _MAIL_ADDRESS.sub("(an address)", words)


def _tell_worker(job_id: int) -> None:
    """Send the hint; a broker that is away costs nothing, for the sweep sends it again."""
    from helpdesk.core.tasks import run_job_task  # noqa: PLC0415 - tasks import this module

    try:
        run_job_task.delay(job_id)
    except Exception as error:  # noqa: BLE001 - any broker fault: the row stays and is re-sent
        logger.warning("No worker could be told about job %s: %r", job_id, error)
