"""Statements: write what will be said, show it, ask about it, word it neutrally, or say nothing.

Each function is one transaction and leaves a line on the subject, and on the case it is about.
"""

import datetime
from collections.abc import Collection
from dataclasses import dataclass

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.cases.services import record_event
from helpdesk.core import clock
from helpdesk.outbox.models import LINK_MARK, MailKind, OutgoingMail
from helpdesk.outbox.services import drop_letters, queue_letter
from helpdesk.photos.models import Photo
from helpdesk.supply.conditions import judge_wording
from helpdesk.supply.errors import RefusedWordsError, StaleWordsError
from helpdesk.supply.models import (
    EvidencePicture,
    NothingAdverse,
    Notice,
    NoticeState,
    Remark,
    RemarkKind,
    ReplyRequest,
    Statement,
    Subject,
    SubjectCase,
    Way,
    WordingOverride,
)
from helpdesk.supply.remarks import NewRemark, add_remark
from helpdesk.supply.selectors import adverse_faults_of, list_subjects_of
from helpdesk.supply.services import link_case, note_entry


@dataclass(frozen=True, kw_only=True)
class Asking:
    """How a subject is asked for a reply; a letter of the desk's own is sent, else it was told."""

    way: str
    to: str
    text: str
    on_date: datetime.date | None = None


@transaction.atomic
def write_statement(subject: Subject, case: Case, text: str, *, actor: User) -> Statement:
    """Keep what will be said of a subject on a case; raises RefusedWordsError for an erased one."""
    link_case(subject, case, actor=actor)
    statement = _make(subject, text, actor, case=case)
    note(statement, "Written down what will be said", actor=actor)
    return statement


@transaction.atomic
def write_notice_statement(notice: Notice, text: str, *, actor: User) -> Statement:
    """Keep the words of a notice."""
    return _make(notice.subject, text, actor, notice=notice)


@transaction.atomic
def change_statement(statement_id: int, text: str, *, version: int, actor: User) -> Statement:
    """Change the words; a public notice is a draft again, for its maker was asked about others.

    Raises StaleWordsError when somebody else changed them since.
    """
    statement = Statement.objects.select_for_update().get(pk=statement_id)
    if statement.version != version:
        raise StaleWordsError("Somebody else changed these words in the meantime.")
    if text == statement.text:
        return statement
    before, statement.text = statement.text, text
    statement.version += 1
    statement.written_by, statement.written_by_name = actor, actor.short_name
    statement.written_at = clock.now()
    statement.save()
    if statement.notice:  # who makes it public must have seen these words
        statement.notice.version += 1
        statement.notice.save(update_fields=["version"])
    _take_back(statement, "its words were changed", actor)
    note(statement, "Words changed", actor=actor, why=f"Before: {before}")
    return statement


@transaction.atomic
def drop_statement(statement: Statement, *, actor: User, why: str) -> None:
    """Take back that a case says something adverse; its replies go on standing.

    Raises RefusedWordsError for the words of a notice, which is withdrawn instead, and without
    a reason.
    """
    if statement.notice_id:
        raise RefusedWordsError("These are the words of a notice: withdraw the notice.")
    if not why.strip():
        raise RefusedWordsError("Say why it will not be said.")
    note(statement, "Will not be said", actor=actor, why=f"{why}\n\nIt was: {statement.text}")
    statement.delete()


@transaction.atomic
def add_picture(statement: Statement, photo: Photo, shows: str, *, actor: User) -> EvidencePicture:
    """Add a photo that shows what is said, or change the word on it.

    A public notice is a draft again: a producer looks at the picture before everybody can.
    Raises RefusedWordsError for a photo of a case that does not name the subject, or without a
    word on what it shows.
    """
    if not shows.strip():
        raise RefusedWordsError("Say in a word what the picture shows.")
    if photo.case is None or not names_subject(photo.case, statement):
        raise RefusedWordsError(
            f"This photo is of a case that does not name {statement.subject.full_name}."
        )
    picture, _ = EvidencePicture.objects.update_or_create(
        statement=statement, photo=photo, defaults={"shows": shows.strip()}
    )
    _take_back(statement, "a picture was added", actor)
    note(statement, f"Picture {photo.pk} shows it", actor=actor)
    return picture


@transaction.atomic
def drop_picture(picture: EvidencePicture, *, actor: User) -> None:
    """Take a picture away from what it was to show."""
    note(picture.statement, f"Picture {picture.photo_id} taken away", actor=actor)
    picture.delete()


def names_subject(case: Case, statement: Statement) -> bool:
    """Return whether a case is the statement's own, or names its subject or what stands below."""
    if case.pk == statement.case_id:
        return True
    for subject in list_subjects_of(case):
        above: Subject | None = subject
        while above is not None:
            if above.pk == statement.subject_id:
                return True
            above = above.parent
    return False


@transaction.atomic
def ask_reply(statement: Statement, asking: Asking, *, actor: User) -> ReplyRequest:
    """Ask a subject for a reply to the words as they stand, by a letter, or keep that it was.

    The very same letter to the same address is sent once, unless it did not arrive. Raises
    RefusedWordsError for a day to come, and for a letter that is empty, or does not hold the
    words it asks about.
    """
    today = clock.today()
    on_date = today if asking.way == Way.MAIL else asking.on_date or today
    if on_date > today:
        raise RefusedWordsError("The day they were asked lies in the future.")
    if statement.text not in asking.text:
        raise RefusedWordsError(
            "The text must hold the statement word for word, so that they know what will be said."
        )
    if LINK_MARK in asking.text:
        raise RefusedWordsError(f"Take {LINK_MARK} out: it stands for a person’s private page.")
    Statement.objects.select_for_update().get(pk=statement.pk)  # two at once ask one by one
    known = _find_same_letter(statement, asking) if asking.way == Way.MAIL else None
    if known:
        return known
    mail = _letter(statement, asking) if asking.way == Way.MAIL else None
    request = ReplyRequest.objects.create(
        statement=statement,
        statement_text=statement.text,
        text=asking.text,
        way=asking.way,
        to=asking.to,
        on_date=on_date,
        mail=mail,
        asked_by=actor,
        asked_by_name=actor.short_name,
        noted_at=clock.now(),
    )
    note(statement, f"Asked for a reply {request.get_way_display()}", actor=actor)
    return request


@transaction.atomic
def record_reply(statement: Statement, new: NewRemark, *, actor: User) -> Remark:
    """Keep what a subject replied; it stands beside the subject from now on."""
    remark = add_remark(statement.subject, new, actor=actor)
    remark.statement = statement
    remark.said = statement.text
    remark.kind = RemarkKind.REPLY
    remark.save(update_fields=["statement", "said", "kind"])
    note(statement, f"Reply of {new.who} recorded", actor=actor)
    return remark


@transaction.atomic
def let_stand(
    statement: Statement, *, rule: str, phrase: str, reason: str, actor: User
) -> WordingOverride:
    """Keep a producer's reason to let a marked wording stand in its sentence.

    Raises RefusedWordsError without a reason, or for a wording that is not marked.
    """
    if not reason.strip():
        raise RefusedWordsError("Give the reason why these words stay.")
    hits = [
        judged.hit
        for judged in judge_wording(statement)
        if (judged.hit.rule, judged.hit.phrase) == (rule, phrase) and not judged.reason
    ]
    if not hits:
        raise RefusedWordsError("These words are not marked, or not any more.")
    made = [
        WordingOverride.objects.create(
            statement=statement,
            rule=rule,
            phrase=phrase,
            sentence=sentence,
            reason=reason.strip(),
            by=actor,
            by_name=actor.short_name,
            at=clock.now(),
        )
        for sentence in dict.fromkeys(hit.sentence for hit in hits)
    ]
    note(statement, f"Wording stays: {phrase or hits[0].name}", actor=actor, why=reason.strip())
    return made[0]


@transaction.atomic
def say_nothing_adverse(case: Case, reason: str, *, actor: User) -> NothingAdverse:
    """Keep that nothing adverse will be said on a case, with its faults and subjects as they are.

    Raises RefusedWordsError without a reason, and while a statement on the case says otherwise.
    """
    if not reason.strip():
        raise RefusedWordsError("Say why nothing adverse will be said.")
    if Statement.objects.filter(case=case).exists():
        raise RefusedWordsError("A statement of this case says something; take it back first.")
    decision, _ = NothingAdverse.objects.update_or_create(
        case=case,
        defaults={
            "reason": reason.strip(),
            "faults": adverse_faults_of(case),
            "subjects": sorted(subject.pk for subject in list_subjects_of(case)),
            "by": actor,
            "by_name": actor.short_name,
            "at": clock.now(),
        },
    )
    record_event(
        case, kind="supply", what="Nothing adverse will be said", actor=actor, why=reason.strip()
    )
    return decision


@transaction.atomic
def forget_case(case: Case) -> None:
    """Remove what was to be said on a case, its evidence and the letters that asked about it."""
    requests = ReplyRequest.objects.filter(statement__case=case, mail__isnull=False)
    drop_letters(list(requests.values_list("mail_id", flat=True)))
    Statement.objects.filter(case=case).delete()
    EvidencePicture.objects.filter(photo__case=case).delete()
    NothingAdverse.objects.filter(case=case).delete()
    named = list(SubjectCase.objects.filter(case=case).values_list("subject", flat=True))
    SubjectCase.objects.filter(case=case).delete()
    _forget_subjects(named)


def _forget_subjects(ids: Collection[int]) -> None:
    """Remove subjects that only forgotten reports named: a batch is in its person's words.

    What somebody of the desk looked at, or another case or subject hangs on, stays.
    """
    for subject in Subject.objects.filter(pk__in=ids, is_from_report=True):
        uses = (subject.links, subject.children, subject.notices, subject.statements)
        if subject.remarks.exists() or any(each.exists() for each in uses):
            continue
        parent = subject.parent_id
        subject.delete()
        if parent:
            _forget_subjects([parent])


def note(statement: Statement, what: str, *, actor: User, why: str = "") -> None:
    """Leave a line on the subject of a statement, and on its case."""
    where = f"Case {statement.case_id}" if statement.case_id else "Notice"
    note_entry(
        statement.subject, f"{where}: {what}", actor=actor, why="" if statement.case_id else why
    )
    if statement.case:
        said = f"{what} ({statement.subject.full_name})"
        record_event(statement.case, kind="supply", what=said, actor=actor, why=why)


def _make(
    subject: Subject,
    text: str,
    actor: User,
    *,
    case: Case | None = None,
    notice: Notice | None = None,
) -> Statement:
    return Statement.objects.create(
        subject=subject,
        case=case,
        notice=notice,
        text=text,
        written_by=actor,
        written_by_name=actor.short_name,
        written_at=clock.now(),
    )


def _take_back(statement: Statement, why: str, actor: User) -> None:
    """Make a public notice a draft again, until a producer has looked at it once more."""
    if statement.notice and statement.notice.state == NoticeState.READY:
        statement.notice.state = NoticeState.DRAFT
        statement.notice.save(update_fields=["state"])
        note(statement, f"No longer public: {why}", actor=actor)


def _find_same_letter(statement: Statement, asking: Asking) -> ReplyRequest | None:
    """Return when this very letter went to this address already and did not come back."""
    asked = ReplyRequest.objects.filter(
        statement=statement, way=Way.MAIL, to__iexact=asking.to, text=asking.text
    )
    arrived = asked.filter(mail__isnull=False, mail__undelivered_at__isnull=True)
    return arrived.select_related("mail").first()


def _letter(statement: Statement, asking: Asking) -> OutgoingMail:
    """Write the letter that asks, a further one each time."""
    return queue_letter(
        kind=MailKind.REPLY,
        to=asking.to,
        subject=f"Before we speak of {statement.subject.full_name}: your reply",
        text=asking.text,
        dedupe_key=f"reply:{statement.pk}:{statement.version}:{statement.requests.count()}",
    )
