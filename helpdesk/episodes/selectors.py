"""Reading episodes: the timed sheet, what is missing, what is in reserve."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case
from helpdesk.episodes.models import Candidate, Episode, EpisodeState, Segment, SegmentKind
from helpdesk.episodes.timing import (
    Part,
    PartTime,
    SheetTime,
    count_words,
    over_before_hits,
    planned_seconds,
    time_sheet,
)
from helpdesk.episodes.withdrawals import has_taken_back, took_photos_back
from helpdesk.people.selectors import Credit, list_credits
from helpdesk.photos.models import Photo, PhotoState


@dataclass(frozen=True)
class Missing:
    """One thing a case still needs; a blocking one keeps the episode from going out."""

    case: Case
    text: str
    is_blocking: bool


@dataclass(frozen=True)
class SheetRow:
    """One line of the run sheet."""

    place: int
    segment: Segment
    seconds: int
    words: int
    time: PartTime
    missing: Sequence[Missing]
    reaches_hit_s: int | None  # seconds over (+) when this part's hit time is reached

    @property
    def is_blocked(self) -> bool:
        """Return True when something missing keeps this part from going out."""
        return any(m.is_blocking for m in self.missing)

    @property
    def points(self) -> list[str]:
        """Return the talking points, one each."""
        return [p.strip() for p in self.segment.talking_points.splitlines() if p.strip()]

    @property
    def credit(self) -> str:
        """Return how its person is named today; a stored name would outlive their consent."""
        if self.segment.case is None:
            return ""
        # Who reported the same print is named with whoever reported it first.
        cases = (self.segment.case, *self.segment.case.joined.all())
        credits = (credit for case in cases for credit in list_credits(case))
        names = list(dict.fromkeys(speak_credit(credit) for credit in credits))
        return f"Credit: {'; '.join(names)}" if names else "Credit: nobody is named"


@dataclass(frozen=True)
class RunSheet:
    """An episode with everything its sheet shows."""

    episode: Episode
    rows: Sequence[SheetRow]
    time: SheetTime
    hard_end: datetime.datetime

    @property
    def missing(self) -> list[Missing]:
        """Return everything missing, blocking things first."""
        found = [m for row in self.rows for m in row.missing]
        return sorted(found, key=lambda m: not m.is_blocking)


def list_episodes(*, limit: int = 60) -> QuerySet[Episode]:
    """Return episodes, newest first."""
    return Episode.objects.order_by("-number")[:limit]


def find_episode_in_the_making() -> Episode | None:
    """Return the next episode that is not out yet, the lowest number first."""
    return Episode.objects.filter(state=EpisodeState.MAKING).order_by("number").first()


def list_reserve() -> QuerySet[Candidate]:
    """Return candidates that stand on no run sheet yet, longest waiting first.

    A case joined to another is shown with it and is no candidate by itself.

    Who took back that photos may be shown is no candidate from that moment on.
    """
    return (
        Candidate.objects.filter(case__segments__isnull=True, case__joined_to__isnull=True)
        .exclude(took_photos_back())
        .select_related("case", "added_by")
        .order_by("added_at", "pk")[:60]
    )


def get_run_sheet(episode: Episode) -> RunSheet:
    """Return an episode's parts with lengths, times and what each still needs."""
    photos = Prefetch("case__photos", queryset=Photo.objects.filter(state=PhotoState.READY))
    sent = Prefetch("case__answers", queryset=Answer.objects.filter(sent_at__isnull=False))
    segments = list(
        episode.segments.select_related("case")
        .prefetch_related(
            photos, sent, "case__consents", "case__parts__person", "case__joined__parts__person"
        )
        .order_by("position")
    )
    counts = [count_words(s.script) for s in segments]
    lengths = [
        planned_seconds(words, episode.words_per_minute, s.fixed_s)
        for s, words in zip(segments, counts, strict=True)
    ]
    parts = [Part(seconds, s.hit_at) for s, seconds in zip(segments, lengths, strict=True)]
    hard_end = episode.starts_at + datetime.timedelta(seconds=episode.slot_s)
    sheet = time_sheet(parts, starts_at=episode.starts_at, hard_end=hard_end)
    reached = dict(over_before_hits(parts, sheet))
    rows = [
        SheetRow(
            place=n + 1,
            segment=s,
            seconds=lengths[n],
            words=counts[n],
            time=sheet.parts[n],
            missing=list_missing(s.case) if s.case else _missing_case(s),
            reaches_hit_s=reached.get(n),
        )
        for n, s in enumerate(segments)
    ]
    return RunSheet(episode=episode, rows=rows, time=sheet, hard_end=hard_end)


def list_missing(case: Case) -> list[Missing]:
    """Return what a case still needs before it may be shown.

    Uses `case.photos`, `case.answers` and `case.consents` as prefetched by get_run_sheet.
    """
    photos = list(case.photos.all())
    answers = [a for a in case.answers.all() if a.sent_at]
    found = []
    if case.erased_at:
        found.append(Missing(case, "The person asked us to erase this case.", True))
    if not case.is_own_print and not case.may_show_photos:
        found.append(Missing(case, "It was passed on: the owner has not agreed.", True))
    elif has_taken_back(case):
        found.append(Missing(case, "The person took back that photos may be shown.", True))
    elif not case.may_show_photos:
        found.append(Missing(case, "No consent to show the photos.", True))
    elif not case.may_show_in_public:
        found.append(Missing(case, "A guardian has not agreed yet.", True))
    if not photos:
        found.append(Missing(case, "There is no photo.", False))
    undescribed = sum(1 for p in photos if not p.alt_text)
    if undescribed:
        noun = "photo has" if undescribed == 1 else "photos have"
        found.append(Missing(case, f"{undescribed} {noun} no description.", False))
    if not answers:
        found.append(Missing(case, "It is not answered yet.", False))
    return found


def speak_credit(credit: Credit) -> str:
    """Return a credit as it is read aloud, with how the name is said where that is known."""
    name = f"{credit.role} {credit.name}".strip()
    return f"{name}, said “{credit.said_as}”" if credit.said_as else name


def _missing_case(segment: Segment) -> list[Missing]:
    """Return nothing for parts that need no case."""
    if segment.kind == SegmentKind.CASE and not segment.case_id:
        return [Missing(Case(title=segment.slug), "This part has lost its case.", True)]
    return []
