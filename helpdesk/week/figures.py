"""How long people wait and what became of their prints, from plain times of cases.

Everything is in hours. What counts as what stands in DEFINITIONS, which the page prints beside the
figures.
"""

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from helpdesk.diagnosis.engine.statistics import Waits, describe_waits

FEW = 5  # ends below which no figure is shown: it would tell of single people
HOUR = datetime.timedelta(hours=1)
REOPEN = datetime.timedelta(days=14)
Span = tuple[datetime.datetime, datetime.datetime | None]  # from, until; None while it goes on

DEFINITIONS = {
    "First answer": "from arrival at the desk to the first answer a reviewer sent; receipts and "
    "questions are none. A case closed without one counts as waiting until it was closed.",
    "First answer, our part": "the same without the time the desk waited for the person to reply.",
    "Cure": "from arrival to the first word that it worked. A case that was closed otherwise, or "
    "given up, counts as not cured for as long as it has been known.",
    "Cure, our part": "the same without the time the desk waited for a reply to a question. Trying "
    "things out is part of it.",
    "Waiting for the person": "how long our questions stood open before the first answer, "
    "in the cases that had any.",
}


@dataclass(frozen=True, kw_only=True)
class CaseTimes:
    """What the clock needs of one case."""

    opened_at: datetime.datetime
    channel: str
    closed_at: datetime.datetime | None = None
    answered_at: datetime.datetime | None = None
    answers: int = 0
    cured_at: datetime.datetime | None = None
    result: str = ""  # told last
    asked: Sequence[Span] = field(default=())
    closings: Sequence[datetime.datetime] = field(default=())  # of cases that came back
    returns: Sequence[datetime.datetime] = field(default=())


@dataclass(frozen=True)
class Figure:
    """A wait with its name; `is_shown` is False where it would rest on too few."""

    name: str
    waits: Waits

    @property
    def is_shown(self) -> bool:
        """Return True when enough waits are over."""
        return self.waits.ended >= FEW

    @property
    def definition(self) -> str:
        """Return what is counted, "" for a part of the cases."""
        return DEFINITIONS.get(self.name, "")


@dataclass(frozen=True)
class Part:
    """So many of so many."""

    name: str
    count: int
    total: int

    @property
    def is_shown(self) -> bool:
        """Return True when the whole is large enough."""
        return self.total >= FEW

    @property
    def share(self) -> float | None:
        """Return the share, or None of nothing."""
        return self.count / self.total if self.total else None


def list_figures(cases: Sequence[CaseTimes], now: datetime.datetime) -> list[Figure]:
    """Return the waits of some cases, each as a whole and without waiting for the person."""
    return [
        _figure("First answer", cases, now, _until_answer, lambda c: c.answered_at is not None),
        _figure(
            "First answer, our part",
            cases,
            now,
            lambda c, n: _until_answer(c, n) - _asked_time(c, c.opened_at + _until_answer(c, n)),
            lambda c: c.answered_at is not None,
        ),
        _figure("Cure", cases, now, _until_cure, lambda c: c.cured_at is not None),
        _figure(
            "Cure, our part",
            cases,
            now,
            lambda c, n: _until_cure(c, n) - _asked_time(c, c.opened_at + _until_cure(c, n)),
            lambda c: c.cured_at is not None,
        ),
        _waiting_for_person(cases, now),
    ]


def first_answers_of(name: str, cases: Sequence[CaseTimes], now: datetime.datetime) -> Figure:
    """Return the wait for the first answer of a part of the cases, under its own name."""
    return _figure(name, cases, now, _until_answer, lambda c: c.answered_at is not None)


def share_reopened(cases: Sequence[CaseTimes], now: datetime.datetime) -> Part:
    """Return how many closed cases came back within fourteen days.

    Only closings that are fourteen days old count: younger ones may still come back.
    """
    closed = [c for c in cases if any(at <= now - REOPEN for at in _closings(c))]
    back = [
        c
        for c in closed
        if any(
            at < again <= at + REOPEN
            for at in _closings(c)
            if at <= now - REOPEN
            for again in c.returns
        )
    ]
    return Part("Came back within 14 days of being closed", len(back), len(closed))


def share_first_contact(cases: Sequence[CaseTimes]) -> Part:
    """Return how many of the cured needed one answer alone, and no question."""
    cured = [c for c in cases if c.cured_at is not None]
    at_once = [c for c in cured if c.answers == 1 and not c.asked]
    return Part("Cured with the first answer, without a question", len(at_once), len(cured))


def _closings(case: CaseTimes) -> Sequence[datetime.datetime]:
    if case.closings:
        return case.closings
    return (case.closed_at,) if case.closed_at else ()


def _figure(
    name: str,
    cases: Sequence[CaseTimes],
    now: datetime.datetime,
    wait: Callable[[CaseTimes, datetime.datetime], datetime.timedelta],
    has_ended: Callable[[CaseTimes], bool],
) -> Figure:
    times = [max(0.0, wait(case, now) / HOUR) for case in cases]
    return Figure(name, describe_waits(times, [has_ended(case) for case in cases]))


def _waiting_for_person(cases: Sequence[CaseTimes], now: datetime.datetime) -> Figure:
    asked = [c for c in cases if c.asked and c.answered_at is not None]
    times = [_asked_time(c, c.answered_at or now) / HOUR for c in asked]
    return Figure("Waiting for the person", describe_waits(times, [True] * len(times)))


def _until_answer(case: CaseTimes, now: datetime.datetime) -> datetime.timedelta:
    return (case.answered_at or case.closed_at or now) - case.opened_at


def _until_cure(case: CaseTimes, now: datetime.datetime) -> datetime.timedelta:
    return (case.cured_at or now) - case.opened_at


def _asked_time(case: CaseTimes, until: datetime.datetime) -> datetime.timedelta:
    """Return how long the desk had waited for the person by a moment."""
    total = datetime.timedelta()
    for begin, end in case.asked:
        last = min(end or until, until)
        total += max(last - begin, datetime.timedelta())
    return total
