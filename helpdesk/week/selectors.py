"""Reading the clock of the week. The number of queries does not grow with the cases."""

import datetime
from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, Min, QuerySet
from django.utils import timezone

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.cases.models import (
    Case,
    CaseState,
    Channel,
    Event,
    Outcome,
    OutcomeResult,
    QueueRank,
)
from helpdesk.core import clock
from helpdesk.week.figures import (
    CaseTimes,
    Figure,
    Part,
    Span,
    first_answers_of,
    list_figures,
    share_first_contact,
    share_reopened,
)

WEEKS = 12
MOST_WAITING = 10
HOUR = datetime.timedelta(hours=1)


@dataclass(frozen=True)
class Flow:
    """A week: when it began, how many cases came in and how many were closed."""

    start: datetime.date
    came: int
    closed: int

    @property
    def net(self) -> int:
        """Return by how much the pile grew."""
        return self.came - self.closed


@dataclass(frozen=True)
class Backlog:
    """The cases open now and how long ago they came, in hours."""

    count: int
    middle_h: float | None
    ninetieth_h: float | None
    oldest_h: float | None


@dataclass(frozen=True)
class Load:
    """What lies with a reviewer: cases that wait for the desk, and for the person."""

    name: str
    ours: int
    theirs: int
    answered: int

    @property
    def total(self) -> int:
        """Return all open cases."""
        return self.ours + self.theirs + self.answered


@dataclass(frozen=True)
class Week:
    """Everything the page shows."""

    at: datetime.datetime
    since: datetime.date
    arrived: int
    figures: Sequence[Figure]
    channels: Sequence[Figure]
    parts: Sequence[Part]
    results: Sequence[Part]
    flow: Sequence[Flow]
    backlog: Backlog
    loads: Sequence[Load]
    longest: Sequence[Case]


def get_week() -> Week:
    """Return the clock of the week as it stands now."""
    now = clock.now()
    weeks = _list_weeks()
    since = _midnight(weeks[0])
    cases = list_case_times(since)
    return Week(
        at=now,
        since=weeks[0],
        arrived=len(cases),
        figures=list_figures(cases, now),
        channels=[
            first_answers_of(label, [c for c in cases if c.channel == channel], now)
            for channel, label in Channel.choices
        ],
        parts=[share_first_contact(cases), share_reopened(cases, now)],
        results=_list_results(cases),
        flow=_list_flow(weeks, cases),
        backlog=_get_backlog(now),
        loads=_list_loads(),
        longest=list(list_longest_waiting()),
    )


def list_longest_waiting() -> QuerySet[Case]:
    """Return the cases that have waited longest for the desk."""
    ours = Case.objects.filter(queue_rank__lte=QueueRank.OURS).select_related("assigned_to")
    return ours.order_by("waiting_since", "pk")[:MOST_WAITING]


def list_case_times(since: datetime.datetime) -> list[CaseTimes]:
    """Return the times of the cases that came since a moment, in five queries.

    Cases joined to another are left out: it is one print, and it counts where it is answered.
    """
    came = Case.objects.filter(opened_at__gte=since, joined_to__isnull=True)
    answers = {
        pk: (first, count)
        for pk, first, count in Answer.objects.filter(case__in=came, sent_at__isnull=False)
        .values_list("case")
        .annotate(first=Min("sent_at"), count=Count("pk"))
    }
    results: dict[int, str] = {}
    cured: dict[int, datetime.datetime] = {}
    told = Outcome.objects.filter(case__in=came).order_by("said_at", "pk")
    for pk, result, said_at in told.values_list("case", "result", "said_at"):
        results[pk] = result
        if result == OutcomeResult.WORKED:
            cured.setdefault(pk, said_at)
    turns = _list_turns(came)
    rows = came.order_by().values_list("pk", "opened_at", "channel", "closed_at")
    return [
        CaseTimes(
            opened_at=opened_at,
            channel=channel,
            closed_at=closed_at,
            answered_at=answers[pk][0] if pk in answers else None,
            answers=answers[pk][1] if pk in answers else 0,
            cured_at=cured.get(pk),
            result=results.get(pk, ""),
            asked=_spans(turns[pk], CaseState.ASKED.label) if pk in turns else (),
            closings=_moments(turns[pk], CaseState.CLOSED.label) if pk in turns else (),
            returns=_moments(turns[pk], CaseState.RECEIVED.label) if pk in turns else (),
        )
        for pk, opened_at, channel, closed_at in rows
    ]


Turn = tuple[str, datetime.datetime]


def _list_turns(came: QuerySet[Case]) -> dict[int, list[Turn]]:
    """Return the changes of state of the cases that were asked something or came back."""
    moved = Event.objects.filter(
        kind="state", case__in=came, what__in=(CaseState.ASKED.label, CaseState.RECEIVED.label)
    )
    found = Event.objects.filter(kind="state", case__in=moved.values("case")).order_by("at", "pk")
    turns: dict[int, list[Turn]] = defaultdict(list)
    for pk, what, at in found.values_list("case", "what", "at"):
        turns[pk].append((what, at))
    return turns


def _spans(turns: Sequence[Turn], what: str) -> list[Span]:
    """Return when a state began and ended."""
    ends = [at for _, at in turns[1:]]
    return [(at, end) for (name, at), end in zip(turns, [*ends, None], strict=True) if name == what]


def _moments(turns: Sequence[Turn], what: str) -> list[datetime.datetime]:
    return [at for name, at in turns if name == what]


def _list_weeks() -> list[datetime.date]:
    """Return the Mondays the last weeks began on; the last one is this week's."""
    today = clock.today()
    monday = today - datetime.timedelta(days=today.weekday())
    return [monday - datetime.timedelta(weeks=n) for n in reversed(range(WEEKS))]


def _midnight(day: datetime.date) -> datetime.datetime:
    """Return when a day began where the desk is."""
    return timezone.make_aware(datetime.datetime.combine(day, datetime.time()))


def _list_flow(weeks: Sequence[datetime.date], cases: Sequence[CaseTimes]) -> list[Flow]:
    """Return what came and what was closed in each week."""
    starts = [_midnight(day) for day in weeks]
    closed_at = Case.objects.filter(closed_at__gte=starts[0], joined_to__isnull=True)
    came = Counter(bisect_right(starts, case.opened_at) - 1 for case in cases)
    closed = Counter(
        bisect_right(starts, at) - 1
        for at in closed_at.order_by().values_list("closed_at", flat=True)
        if at is not None
    )
    return [Flow(day, came[n], closed[n]) for n, day in enumerate(weeks)]


def _list_results(cases: Sequence[CaseTimes]) -> list[Part]:
    """Return what was told last, over the cases that were answered."""
    answered = [case for case in cases if case.answered_at is not None]
    told = Counter(case.result for case in answered)
    names = [*OutcomeResult.choices, ("", "Not heard")]
    return [Part(label, told[result], len(answered)) for result, label in names]


def _get_backlog(now: datetime.datetime) -> Backlog:
    """Return how many cases are open and how old they are, by the nearest rank."""
    opened = Case.objects.filter(queue_rank__lt=QueueRank.CLOSED).order_by("opened_at")
    count = opened.count()

    def age_h(share: float) -> float | None:
        """Return the age that so large a share of the open cases does not exceed."""
        if not count:
            return None
        older = count - max(1, -int(-share * count // 1))
        found = opened.values_list("opened_at", flat=True)[older]
        return (now - found) / HOUR

    return Backlog(count, age_h(0.5), age_h(0.9), age_h(1.0))


def _list_loads() -> list[Load]:
    """Return what lies with each reviewer, in the order of their names, then with nobody."""
    opened = Case.objects.filter(queue_rank__lt=QueueRank.CLOSED).order_by()
    counts: dict[int | None, Counter[str]] = defaultdict(Counter)
    for holder, state, count in opened.values_list("assigned_to", "state").annotate(n=Count("pk")):
        counts[holder][state] = count
    holders = User.objects.in_bulk([pk for pk in counts if pk is not None])
    named = sorted((user.short_name, pk) for pk, user in holders.items())
    rows = [*named, *((("nobody yet", None),) if None in counts else ())]
    return [
        Load(
            name,
            counts[pk][CaseState.RECEIVED],
            counts[pk][CaseState.ASKED],
            counts[pk][CaseState.ANSWERED],
        )
        for name, pk in rows
    ]
