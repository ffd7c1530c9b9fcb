"""Jobs: written with their cause, done once, never lost."""

import datetime
from collections.abc import Callable, Mapping
from typing import Any

import pytest
from celery.exceptions import OperationalError
from django.db import transaction

from helpdesk.core import clock, jobs, tasks
from helpdesk.core.jobs import (
    MAX_ATTEMPTS,
    list_failing_jobs,
    resend_stale_jobs,
    retry_failed,
    run_due_jobs,
    run_job,
    run_rounds,
    start_job,
)
from helpdesk.core.models import Job, JobState

Later = Callable[[float], None]
Effects = list[Mapping[str, Any]]


@pytest.fixture
def effects(monkeypatch: pytest.MonkeyPatch) -> Effects:
    """Return what the handler of the kind "note" has done."""
    done: Effects = []
    monkeypatch.setitem(jobs._handlers, "note", done.append)
    return done


@pytest.fixture
def later(monkeypatch: pytest.MonkeyPatch) -> Later:
    """Return a function that moves the clock on by so many seconds."""
    shift = datetime.timedelta()

    def move(seconds: float) -> None:
        nonlocal shift
        shift += datetime.timedelta(seconds=seconds)

    real = clock.now
    monkeypatch.setattr(clock, "now", lambda: real() + shift)
    return move


@pytest.fixture
def silent_broker(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Put in a broker that takes every hint and delivers none; return the hints."""
    hints: list[int] = []
    monkeypatch.setattr(tasks.run_job_task, "delay", hints.append)
    return hints


def _fail(payload: Mapping[str, Any]) -> None:
    raise ValueError("the printer rina@fennside.example is away")


@pytest.mark.django_db
def test_job_runs_once_when_its_hint_comes_twice(effects: Effects) -> None:
    """The second hint for a done job does nothing."""
    job = start_job("note", key="a", payload={"n": 1})

    ran = [run_job(job.pk), run_job(job.pk)]

    assert ran == [True, False]
    assert effects == [{"n": 1}]


@pytest.mark.django_db
def test_start_job_twice_with_one_key_is_one_job(effects: Effects) -> None:
    """A key names an effect: the second start returns the first row."""
    first = start_job("note", key="a", payload={"n": 1})
    second = start_job("note", key="a", payload={"n": 2})

    run_due_jobs()

    assert second.pk == first.pk
    assert effects == [{"n": 1}]


@pytest.mark.django_db(transaction=True)
def test_rolled_back_transaction_leaves_no_job_and_no_hint(silent_broker: list[int]) -> None:
    """Work whose cause was undone is never announced."""
    with transaction.atomic():
        start_job("note", key="a", payload={})
        transaction.set_rollback(True)

    assert not Job.objects.exists()
    assert silent_broker == []


@pytest.mark.django_db(transaction=True)
def test_hint_is_sent_only_after_the_commit(silent_broker: list[int]) -> None:
    """A worker is never told of a row it cannot see yet."""
    with transaction.atomic():
        job = start_job("note", key="a", payload={})
        before_commit = list(silent_broker)

    assert before_commit == []
    assert silent_broker == [job.pk]


@pytest.mark.django_db(transaction=True)
def test_job_survives_a_broker_that_is_away_and_is_sent_again(
    monkeypatch: pytest.MonkeyPatch, effects: Effects, later: Later
) -> None:
    """A broker fault reaches nobody; the sweep sends the hint when the row is stale."""

    def refuse(job_id: int) -> None:
        raise OperationalError("no broker")

    monkeypatch.setattr(tasks.run_job_task, "delay", refuse)
    job = start_job("note", key="a", payload={"n": 1})
    monkeypatch.setattr(tasks.run_job_task, "delay", run_job)

    too_early = resend_stale_jobs()
    later(31)
    resent = resend_stale_jobs()

    job.refresh_from_db()
    assert (too_early, resent) == (0, 1)
    assert (job.state, effects) == (JobState.DONE, [{"n": 1}])


@pytest.mark.django_db
def test_failing_job_waits_longer_each_time_and_is_then_given_up(
    monkeypatch: pytest.MonkeyPatch, later: Later
) -> None:
    """Pauses double up to the limit; after the last attempt a person has to look."""
    monkeypatch.setitem(jobs._handlers, "bad", _fail)
    job = start_job("bad", key="a", payload={})
    pauses = []

    for _ in range(MAX_ATTEMPTS):
        assert run_due_jobs() == 1
        job.refresh_from_db()
        pauses.append(round((job.run_after - clock.now()).total_seconds()))
        assert run_due_jobs() == 0 or job.state == JobState.FAILED
        later(max(0, pauses[-1]) + 1)

    assert pauses[:-1] == [20 * 2**n for n in range(MAX_ATTEMPTS - 1)]
    assert job.state == JobState.FAILED
    assert run_due_jobs() == 0


@pytest.mark.django_db
def test_error_of_a_failed_job_holds_no_mail_address(monkeypatch: pytest.MonkeyPatch) -> None:
    """Words of a mail server name the person; the row outlives their erasure."""
    monkeypatch.setitem(jobs._handlers, "bad", _fail)
    job = start_job("bad", key="a", payload={})

    run_job(job.pk)

    job.refresh_from_db()
    assert job.last_error == "ValueError: the printer (an address) is away"


@pytest.mark.django_db
def test_job_without_a_handler_stays_for_a_worker_that_knows_it() -> None:
    """An older worker that does not know a kind loses nothing."""
    job = start_job("of-tomorrow", key="a", payload={})

    run_job(job.pk)

    job.refresh_from_db()
    assert job.state == JobState.WAITING
    assert "No handler" in job.last_error


@pytest.mark.django_db
def test_expired_lease_is_taken_over(effects: Effects, later: Later) -> None:
    """A row held by a worker that died is done by the next, once its lease has run out."""
    job = start_job("note", key="a", payload={"n": 1})
    assert jobs._claim(job.pk)

    while_held = run_due_jobs()
    later(jobs.LEASE.total_seconds() + 1)
    afterwards = run_due_jobs()

    assert (while_held, afterwards) == (0, 1)
    assert effects == [{"n": 1}]


@pytest.mark.django_db
def test_job_that_kills_each_worker_is_given_up(effects: Effects, later: Later) -> None:
    """Attempts that never report back count too, so one bad job cannot kill workers for ever."""
    job = start_job("note", key="a", payload={})
    for _ in range(MAX_ATTEMPTS):
        assert jobs._claim(job.pk)
        later(jobs.LEASE.total_seconds() + 1)

    run_due_jobs()

    job.refresh_from_db()
    assert job.state == JobState.FAILED
    assert "worker died" in job.last_error
    assert effects == []


@pytest.mark.django_db
def test_stalled_worker_cannot_undo_what_its_successor_did(
    monkeypatch: pytest.MonkeyPatch, later: Later
) -> None:
    """A worker that wakes after its lease and fails leaves the done row done."""
    job = start_job("slow", key="a", payload={})

    def stall(payload: Mapping[str, Any]) -> None:
        later(jobs.LEASE.total_seconds() + 1)
        monkeypatch.setitem(jobs._handlers, "slow", lambda payload: None)
        assert run_job(job.pk)
        raise ValueError("too late")

    monkeypatch.setitem(jobs._handlers, "slow", stall)
    run_job(job.pk)

    job.refresh_from_db()
    assert (job.state, job.last_error, job.attempts) == (JobState.DONE, "", 2)


@pytest.mark.django_db
def test_given_up_job_can_be_tried_again_once(
    monkeypatch: pytest.MonkeyPatch, effects: Effects
) -> None:
    """Two presses of "Try again" are one new series of attempts."""
    job = start_job("note", key="a", payload={"n": 1})
    Job.objects.filter(pk=job.pk).update(state=JobState.FAILED, attempts=8, last_error="x")
    shown = list(list_failing_jobs())

    first, second = retry_failed(job), retry_failed(job)
    run_due_jobs()

    assert shown == [job]
    assert (first, second) == (True, False)
    assert effects == [{"n": 1}]


def test_broken_round_does_not_stop_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """A round that raises is logged; the rest of the night's work is done."""
    called = []

    def broken() -> None:
        raise ValueError("no")

    monkeypatch.setattr(
        jobs, "_rounds", {"broken": broken, "sound": lambda: called.append("sound")}
    )

    run_rounds()

    assert called == ["sound"]
