"""Reading the queue and everything one case page shows."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils.safestring import SafeString

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import REVIEW_CASES
from helpdesk.cases.models import (
    Case,
    CaseState,
    Event,
    Message,
    MessageKind,
    Outcome,
    QueueRank,
    Report,
)
from helpdesk.cases.selectors import list_events, list_open_cases
from helpdesk.core import clock
from helpdesk.core.paging import keyset_page
from helpdesk.diagnosis.models import Verdict
from helpdesk.diagnosis.selectors import CaseView, get_view, list_verdicts
from helpdesk.photos.models import Photo
from helpdesk.photos.selectors import list_covers, list_photos
from helpdesk.printfiles.models import CaseFile
from helpdesk.printfiles.selectors import list_files
from helpdesk.review.story import render_story

PAGE_SIZE = 25
QUEUE_ORDER = ("queue_rank", "waiting_since", "pk")
NOBODY, MINE = "nobody", "me"
TURNS: Mapping[str, str] = {
    "ours": CaseState.RECEIVED,
    "theirs": CaseState.ASKED,
    "answered": CaseState.ANSWERED,
    "closed": CaseState.CLOSED,
}
MOST_WORDS = 6
MAX_NUMBER = 2**63 - 1


@dataclass(frozen=True, kw_only=True)
class QueueFilter:
    """What narrows the queue; "" leaves it wide."""

    turn: str = ""
    who: str = ""
    process: str = ""
    channel: str = ""
    words: str = ""


@dataclass(frozen=True)
class QueueRow:
    """A case with its first photo, as one row shows it."""

    case: Case
    cover: Photo | None
    is_outcome_due: bool


@dataclass(frozen=True)
class QueuePage:
    """One page of the queue and where the next begins."""

    rows: Sequence[QueueRow]
    next_after: str


@dataclass(frozen=True)
class Story:
    """A report with its words as HTML."""

    report: Report
    html: SafeString


@dataclass(frozen=True)
class CasePage:
    """Everything a case page shows of its case, read in a fixed number of queries."""

    case: Case
    stories: Sequence[Story]
    photos: Sequence[Photo]
    files: Sequence[CaseFile]
    view: CaseView | None
    verdicts: Sequence[Verdict]
    notes: Sequence[Message]
    events: Sequence[Event]
    outcomes: Sequence[Outcome]

    @property
    def verdict_ids(self) -> frozenset[str]:
        """Return the ids of the confirmed faults."""
        return frozenset(verdict.fault for verdict in self.verdicts)


def list_queue(wanted: QueueFilter, *, user: User, after: str = "") -> QueuePage:
    """Return a page of the queue: danger first, then who has waited longest."""
    found = filter_queue(wanted, user=user)
    page = keyset_page(found, fields=QUEUE_ORDER, after=after, size=PAGE_SIZE)
    covers = list_covers([case.pk for case in page.rows])
    rows = [queue_row(case, covers.get(case.pk)) for case in page.rows]
    return QueuePage(rows=rows, next_after=page.next_after)


def queue_row(case: Case, cover: Photo | None) -> QueueRow:
    """Return a case as a row of the queue."""
    due = case.follow_up_on
    is_due = case.state == CaseState.ANSWERED and due is not None and due <= clock.today()
    return QueueRow(case=case, cover=cover, is_outcome_due=is_due)


def filter_queue(wanted: QueueFilter, *, user: User) -> QuerySet[Case]:
    """Return the cases that fit a filter."""
    found = list_open_cases()
    if wanted.turn == "closed":
        found = Case.objects.select_related("assigned_to")
    if wanted.turn:
        found = found.filter(state=TURNS[wanted.turn])
    if wanted.who == NOBODY:
        found = found.filter(assigned_to__isnull=True)
    elif wanted.who:
        found = found.filter(assigned_to=user.pk if wanted.who == MINE else int(wanted.who))
    if wanted.process:
        found = found.filter(process=wanted.process)
    if wanted.channel:
        found = found.filter(channel=wanted.channel)
    for word in wanted.words.split()[:MOST_WORDS]:
        found = found.filter(_word_in(word))
    return found


def find_next_cases(*, limit: int) -> list[int]:
    """Return the ids of the first cases nobody has and that want something from the desk."""
    free = Case.objects.filter(assigned_to__isnull=True, queue_rank__lte=QueueRank.OURS)
    return list(free.order_by(*QUEUE_ORDER).values_list("pk", flat=True)[:limit])


def list_reviewers() -> list[User]:
    """Return the people who may take a case, by name."""
    people = User.objects.with_perm(
        REVIEW_CASES, backend="django.contrib.auth.backends.ModelBackend", include_superusers=False
    )
    return sorted(people, key=lambda user: (user.short_name.casefold(), user.pk))


def get_case_page(case: Case) -> CasePage:
    """Return everything the page of a case shows."""
    reports = list(case.reports.all())
    view = get_view(case)
    notes = list(case.messages.filter(kind=MessageKind.NOTE).order_by("sent_at", "pk"))
    spans = view.spans if view else ()
    return CasePage(
        case=case,
        stories=[
            Story(report, render_story(report.story, spans if number == 0 else ()))
            for number, report in enumerate(reports)
        ],
        photos=list_photos(case),
        files=list_files(case),
        view=view,
        verdicts=list(list_verdicts(case)),
        notes=notes,
        events=list(list_events(case)),
        outcomes=list(case.outcomes.all()),
    )


def find_recent_question(case: Case, *, since: datetime.datetime, author: User) -> Message | None:
    """Return the last question an author sent after a moment, if any."""
    sent = case.messages.filter(kind=MessageKind.QUESTION, author=author, sent_at__gte=since)
    return sent.order_by("-sent_at", "-pk").first()


def _word_in(word: str) -> Q:
    """Return the condition that a word stands in the title, printer or person, or is the number."""
    found = (
        Q(title__icontains=word)
        | Q(machine__icontains=word)
        | Q(person_name__icontains=word)
        | Q(handle__icontains=word)
    )
    if word.isascii() and word.isdigit() and int(word) <= MAX_NUMBER:
        found |= Q(pk=int(word))
    return found
