"""What the pages of subjects, statements and notices show."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.conf import settings
from django.db.models import Q, QuerySet

from helpdesk.cases.models import Case
from helpdesk.core.paging import KeysetPage, keyset_page
from helpdesk.photos.models import Photo, PhotoState
from helpdesk.supply.conditions import JudgedHit, judge_wording, list_needs, shown_pictures
from helpdesk.supply.counting import Share, count_share, list_below
from helpdesk.supply.models import (
    EvidencePicture,
    Notice,
    NoticeState,
    Remark,
    Statement,
    Subject,
    SubjectCase,
)
from helpdesk.supply.names import fold
from helpdesk.supply.selectors import WITH_SUBJECT, with_evidence

PAGE_SIZE = 50
MOST_CASES = 100
MOST_ENTRIES = 100
MOST_PHOTOS = 60


@dataclass(frozen=True)
class SubjectRow:
    """A subject in the list, with what stands on it."""

    subject: Subject
    cases: int
    waiting: int  # statements that still need something
    sayable: int
    remarks: int
    notices: int


@dataclass(frozen=True)
class ShownStatement:
    """A statement with what it still needs."""

    statement: Statement
    needs: Sequence[str]


@dataclass(frozen=True)
class TextPart:
    """A stretch of a statement; `judged` where its wording was marked."""

    text: str
    judged: JudgedHit | None = None


@dataclass(frozen=True)
class ShownNotice:
    """A notice as it is read: its words, the pictures agreed to, its count and the replies."""

    notice: Notice
    statement: Statement
    share: Share
    pictures: Sequence[EvidencePicture]
    replies: Sequence[Remark]
    was_asked: bool


def list_subject_rows(words: str, *, after: str = "") -> KeysetPage[SubjectRow]:
    """Return a page of subjects by name; all words must stand in a name, or in one above it."""
    found = Subject.objects.select_related("parent__parent")
    for word in fold(words).split():
        found = found.filter(
            Q(name_key__contains=word)
            | Q(parent__name_key__contains=word)
            | Q(parent__parent__name_key__contains=word)
            | Q(other_names__name_key__contains=word)
        )
    page = keyset_page(found.distinct(), fields=("name_key", "id"), after=after, size=PAGE_SIZE)
    return KeysetPage(rows=_rows(page.rows), next_after=page.next_after)


def _rows(subjects: Sequence[Subject]) -> list[SubjectRow]:
    """Return subjects with their counts, in four queries however many they are."""
    ids = [subject.pk for subject in subjects]
    cases = _count_cases(ids)
    remarks = _tally(
        Remark.objects.filter(subject__in=ids, withdrawn_at__isnull=True).values_list(
            "subject", flat=True
        )
    )
    public = Notice.objects.filter(subject__in=ids, state=NoticeState.READY)
    notices = _tally(public.values_list("subject", flat=True))
    states: dict[int, list[bool]] = {}
    for statement in with_evidence(Statement.objects.filter(subject__in=ids)):
        states.setdefault(statement.subject_id, []).append(not list_needs(statement))
    return [
        SubjectRow(
            subject=each,
            cases=cases.get(each.pk, 0),
            waiting=states.get(each.pk, []).count(False),
            sayable=states.get(each.pk, []).count(True),
            remarks=remarks.get(each.pk, 0),
            notices=notices.get(each.pk, 0),
        )
        for each in subjects
    ]


def _count_cases(ids: Sequence[int]) -> dict[int, int]:
    """Return how many cases name each subject or something below it."""
    at_or_below = (
        Q(subject__in=ids) | Q(subject__parent__in=ids) | Q(subject__parent__parent__in=ids)
    )
    links = SubjectCase.objects.filter(
        at_or_below, is_dropped=False, case__erased_at__isnull=True
    ).values_list("case", "subject", "subject__parent", "subject__parent__parent")
    named = {(case, subject) for case, *chain in links for subject in chain if subject is not None}
    return _tally(subject for _, subject in named)


def _tally(ids: Iterable[int]) -> dict[int, int]:
    counts: dict[int, int] = {}
    for pk in ids:
        counts[pk] = counts.get(pk, 0) + 1
    return counts


def list_linked_cases(subject: Subject) -> list[SubjectCase]:
    """Return the latest cases that name a subject or something below it."""
    links = SubjectCase.objects.filter(
        subject__in=list_below(subject), is_dropped=False, case__erased_at__isnull=True
    )
    found = links.select_related("case", "subject__parent__parent").order_by("-case__pk")
    return list(found[:MOST_CASES])


def list_statements(statements: QuerySet[Statement]) -> list[ShownStatement]:
    """Return statements with what each still needs."""
    return [ShownStatement(each, list_needs(each)) for each in with_evidence(statements)]


def list_remarks(*, is_withdrawn: bool = False) -> QuerySet[Remark]:
    """Return the remarks that stand, or those that were withdrawn, latest first."""
    found = Remark.objects.filter(withdrawn_at__isnull=not is_withdrawn)
    return found.select_related(*WITH_SUBJECT)


def split_text(statement: Statement) -> list[TextPart]:
    """Return a statement in stretches, those that are not neutral with what was marked."""
    parts, place = [], 0
    for judged in judge_wording(statement):
        start, end = judged.hit.start, judged.hit.end
        if start is None or end is None or start < place:
            continue  # it leaves something out, or stands inside a stretch marked already
        parts += [
            TextPart(statement.text[place:start]),
            TextPart(statement.text[start:end], judged),
        ]
        place = end
    return [*parts, TextPart(statement.text[place:])]


def list_evidence_photos(statement: Statement) -> list[Photo]:
    """Return the photos that can show what a statement says, those agreed to first."""
    if statement.case_id:
        cases = [statement.case_id]
    else:
        links = SubjectCase.objects.filter(
            subject__in=list_below(statement.subject), is_dropped=False
        )
        cases = list(links.values_list("case", flat=True))
    photos = Photo.objects.filter(
        case__in=cases, case__erased_at__isnull=True, state=PhotoState.READY
    ).select_related("case")
    found = list(photos.order_by("-case", "position")[:MOST_PHOTOS])
    return sorted(found, key=lambda p: not (p.case and p.case.may_show_in_public))


def show_notice(notice: Notice) -> ShownNotice:
    """Return a notice as it is read at this moment."""
    return _show(notice, with_evidence(Statement.objects.filter(notice=notice)).get())


def _show(notice: Notice, statement: Statement) -> ShownNotice:
    replies = [each for each in statement.replies.all() if each.withdrawn_at is None]
    return ShownNotice(
        notice=notice,
        statement=statement,
        share=count_share(notice.subject, notice.fault),
        pictures=shown_pictures(statement),
        replies=replies,
        was_asked=bool(statement.requests.all()),
    )


def list_public_notices() -> list[ShownNotice]:
    """Return what everybody may read, dangers first, then the latest."""
    ready = Notice.objects.filter(state=NoticeState.READY).select_related(*WITH_SUBJECT)
    ordered = sorted(ready.order_by("-ready_at", "-pk"), key=lambda notice: not notice.caution)
    words = with_evidence(Statement.objects.filter(notice__in=ordered))
    by_notice = {statement.notice_id: statement for statement in words}
    return [_show(notice, by_notice[notice.pk]) for notice in ordered]


def find_public_photo(notice_id: int, photo_id: int) -> Photo | None:
    """Return a photo of a public notice while its person agrees, or None."""
    statement = with_evidence(
        Statement.objects.filter(notice=notice_id, notice__state=NoticeState.READY)
    ).first()
    pictures = shown_pictures(statement) if statement else []
    return next((each.photo for each in pictures if each.photo_id == photo_id), None)


def draft_letter(statement: Statement) -> str:
    """Return the words of a letter that asks for a reply, to be read and changed before it goes."""
    where = "in a notice on our page" if statement.notice_id else f"on {settings.SHOW_NAME}"
    name = find_contact(statement.subject).contact_name or "Sir or Madam"
    pictures = [each.shows for each in statement.pictures.all()]
    shown = "".join(f"- {words}\n" for words in pictures)
    evidence = f"What we can show of it:\n{shown}\n" if shown else ""
    return (
        f"Dear {name},\n\n"
        f"{settings.DESK_NAME} looks at failed 3D prints that people send in. We are about to say "
        f"this of {statement.subject.full_name} {where}:\n\n"
        f"{statement.text}\n\n"
        f"{evidence}"
        "Before we do, we ask you for your reply. If something in it is wrong, please tell us "
        f"what is right. We wait {settings.REPLY_DAYS} days for it, and we pass on what you tell "
        "us whenever we speak of this.\n\n"
        f"With kind regards\n{settings.DESK_NAME}\n"
    )


def find_contact(subject: Subject) -> Subject:
    """Return the subject itself where it has a contact, else the nearest above it that has."""
    each: Subject | None = subject
    while each is not None:
        if each.contact_email or each.contact_other or each.contact_name:
            return each
        each = each.parent
    return subject


def list_case_statements(case: Case) -> list[ShownStatement]:
    """Return what will be said on a case and those joined to it, with what each still needs."""
    return list_statements(Statement.objects.filter(Q(case=case) | Q(case__joined_to=case)))
