"""Reading a season: what was shown when, what was not, what viewers and reviewers asked."""

import datetime
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Prefetch
from django.utils import timezone

from helpdesk.cases.models import Appearance, Case, Message, MessageKind
from helpdesk.diagnosis.models import Verdict
from helpdesk.episodes.models import Episode, EpisodeState, Segment
from helpdesk.season.subjects import Subject

FREQUENT = 3  # cases of a period before a gap is worth a word [judgement: desk, 2026-11]
LONG_WEEKS = 8  # without being shown [judgement: desk, 2026-11]
MOST_GAPS = 12
WEEK = datetime.timedelta(weeks=1)


@dataclass(frozen=True)
class Shown:
    """A print on a show: where, and the second of the recording it starts at."""

    episode: Episode
    segment: Segment
    case: Case
    at_s: int | None


@dataclass(frozen=True)
class Row:
    """One thing a season is about: a cell for each show, and how many cases there were of it."""

    name: str
    cells: Sequence[Sequence[Shown]]
    shown_count: int
    settled: int
    suspected: int

    @property
    def cases(self) -> int:
        """Return all the cases of the period."""
        return self.settled + self.suspected


@dataclass(frozen=True)
class Gap:
    """Something frequent among the cases that was not shown for long."""

    name: str
    settled: int
    suspected: int
    all_cases: int
    last: Episode | None
    weeks: int | None

    @property
    def cases(self) -> int:
        """Return all the cases of the period."""
        return self.settled + self.suspected


@dataclass(frozen=True)
class Asked:
    """What the audience of a show asked, and what people were asked most in the week before."""

    episode: Episode
    questions: Sequence[Segment]
    most_asked: str
    most_asked_count: int


@dataclass(frozen=True)
class Season:
    """Everything the page shows; shows stand newest first."""

    since: datetime.date
    until: datetime.date
    subject: Subject
    episodes: Sequence[Episode]
    shown: Sequence[Shown]
    rows: Sequence[Row]
    gaps: Sequence[Gap]
    asked: Sequence[Asked]
    case_count: int


def get_season(*, since: datetime.date, until: datetime.date, subject: Subject) -> Season:
    """Return what shows and cases of a period were about."""
    start, end = _midnight(since), _midnight(until + datetime.timedelta(days=1))
    out = Episode.objects.filter(state=EpisodeState.OUT)
    episodes = list(out.filter(starts_at__gte=start, starts_at__lt=end).order_by("-starts_at"))
    shown = list_shown(episodes)
    # One print is one case, however many people reported it.
    cases = Case.objects.filter(
        opened_at__gte=start, opened_at__lt=end, joined_to__isnull=True, erased_at__isnull=True
    )
    counted = subject.count(cases)
    by_name: dict[str, list[Shown]] = {}
    for one in shown:
        for name in subject.of(one.case):
            by_name.setdefault(name, []).append(one)
    names = sorted(
        {*by_name, *counted.settled, *counted.suspected},
        key=lambda n: (-len(by_name.get(n, ())), -counted.total(n), subject.name(n)),
    )
    rows = [
        Row(
            name=subject.name(name),
            cells=[[s for s in by_name.get(name, ()) if s.episode == e] for e in episodes],
            shown_count=len(by_name.get(name, ())),
            settled=counted.settled.get(name, 0),
            suspected=counted.suspected.get(name, 0),
        )
        for name in names
    ]
    total = cases.count()
    last = _last_shown(subject, end)
    gaps = [
        Gap(
            name=row.name,
            settled=row.settled,
            suspected=row.suspected,
            all_cases=total,
            last=last.get(name),
            weeks=_weeks_since(last.get(name), end),
        )
        for name, row in zip(names, rows, strict=True)
        if row.cases >= FREQUENT
    ]
    return Season(
        since=since,
        until=until,
        subject=subject,
        episodes=episodes,
        shown=shown,
        rows=rows,
        gaps=sorted(
            (g for g in gaps if g.weeks is None or g.weeks >= LONG_WEEKS), key=lambda g: -g.cases
        )[:MOST_GAPS],
        asked=list_asked(episodes),
        case_count=total,
    )


def list_shown(episodes: Sequence[Episode]) -> list[Shown]:
    """Return the prints of some shows in their order, in a handful of queries."""
    verdicts = Prefetch("case__verdicts", Verdict.objects.order_by("position", "pk"))
    segments = (
        Segment.objects.filter(episode__in=episodes, case__isnull=False, was_left_out=False)
        .select_related("case", "episode")
        .prefetch_related(verdicts)
        .order_by("-episode__starts_at", "position")
    )
    numbers = [episode.number for episode in episodes]
    places = {
        (a.case_id, a.episode_number): a.starts_at_s
        for a in Appearance.objects.filter(episode_number__in=numbers)
    }
    return [
        Shown(s.episode, s, s.case, places.get((s.case.pk, s.episode.number)))
        for s in segments
        if s.case is not None
    ]


def list_asked(episodes: Sequence[Episode]) -> list[Asked]:
    """Return what was asked on each show, and by reviewers in the week before it."""
    asked_on: dict[int, list[Segment]] = {}
    segments = Segment.objects.filter(episode__in=episodes).exclude(audience_question="")
    for segment in segments.order_by("position"):
        asked_on.setdefault(segment.episode_id, []).append(segment)
    found = []
    for episode, (question, count) in zip(episodes, _most_asked(episodes), strict=True):
        own = asked_on.get(episode.pk, [])
        if own or question:
            found.append(Asked(episode, own, question, count))
    return found


def _most_asked(episodes: Sequence[Episode]) -> list[tuple[str, int]]:
    """Return the question put to most cases in the week before each show, with their number."""
    if not episodes:
        return []
    starts = [episode.starts_at for episode in episodes]
    rows = list(
        Message.objects.filter(
            kind=MessageKind.QUESTION, sent_at__gte=min(starts) - WEEK, sent_at__lt=max(starts)
        ).values_list("sent_at", "case", "questions")
    )
    found = []
    for start in starts:
        asked: Counter[str] = Counter()
        week = [row for row in rows if start - WEEK <= row[0] < start]
        for question, _ in {
            (str(each.get("question", "")), case) for _, case, each_of in week for each in each_of
        }:
            asked[question] += 1
        asked.pop("", None)
        # The same count twice: the first by the alphabet, so that the page stays the same.
        best = min(asked.items(), key=lambda item: (-item[1], item[0]), default=("", 0))
        found.append(best)
    return found


def _last_shown(subject: Subject, end: datetime.datetime) -> dict[str, Episode]:
    """Return the latest show, ever, on which each thing was."""
    episodes = list(
        Episode.objects.filter(state=EpisodeState.OUT, starts_at__lt=end).order_by("-starts_at")
    )
    last: dict[str, Episode] = {}
    for one in list_shown(episodes):
        for name in subject.of(one.case):
            last.setdefault(name, one.episode)
    return last


def _weeks_since(episode: Episode | None, end: datetime.datetime) -> int | None:
    return None if episode is None else max(0, (end - episode.starts_at) // WEEK)


def _midnight(day: datetime.date) -> datetime.datetime:
    """Return when a day began where the desk is."""
    return timezone.make_aware(datetime.datetime.combine(day, datetime.time()))
