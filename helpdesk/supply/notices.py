"""Notices: drafted, made public once nothing is missing, withdrawn with a reason."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.core import clock
from helpdesk.diagnosis.engine import fault_info
from helpdesk.supply.conditions import list_needs, shown_pictures
from helpdesk.supply.errors import NotReadyError, RefusedWordsError, StaleWordsError
from helpdesk.supply.models import Notice, NoticeState, Statement, Subject
from helpdesk.supply.names import fold, pattern_of
from helpdesk.supply.selectors import with_evidence
from helpdesk.supply.services import note_entry
from helpdesk.supply.statements import change_statement, write_notice_statement


@dataclass(frozen=True, kw_only=True)
class NoticeWords:
    """What a notice says."""

    title: str
    text: str
    fault: str
    caution: str = ""


@transaction.atomic
def make_notice(subject: Subject, words: NoticeWords, *, actor: User) -> Notice:
    """Draft a notice; raises UnknownThingError for a fault there is not."""
    notice = Notice.objects.create(
        subject=subject,
        title=words.title,
        fault=words.fault,
        fault_name=fault_info(words.fault).name,
        caution=words.caution,
        made_at=clock.now(),
    )
    write_notice_statement(notice, words.text, actor=actor)
    note_entry(subject, f"Notice drafted: {notice.title}", actor=actor)
    return notice


@transaction.atomic
def change_notice(notice_id: int, words: NoticeWords, *, version: int, actor: User) -> Notice:
    """Change what a notice says; a public one is a draft again.

    Raises StaleWordsError when somebody else changed it since.
    """
    notice = Notice.objects.select_for_update().get(pk=notice_id)
    if notice.version != version:
        raise StaleWordsError("Somebody else changed this notice in the meantime.")
    statement = Statement.objects.get(notice=notice)
    change_statement(statement.pk, words.text, version=statement.version, actor=actor)
    notice.title, notice.caution = words.title, words.caution
    notice.fault, notice.fault_name = words.fault, fault_info(words.fault).name
    notice.version += 1
    if notice.state == NoticeState.READY:
        notice.state = NoticeState.DRAFT
    notice.save()
    note_entry(notice.subject, f"Notice changed: {notice.title}", actor=actor)
    return notice


def list_notice_needs(notice: Notice) -> list[str]:
    """Return, in sentences, what a notice still needs before everybody may read it."""
    statement = with_evidence(Statement.objects.filter(notice=notice)).get()
    return [*list_needs(statement), *_persons_named(notice, statement)]


@transaction.atomic
def make_ready(notice_id: int, *, version: int, has_looked: bool, actor: User) -> Notice:
    """Make a notice public. Permission: produce episodes.

    Raises NotReadyError with what it still needs, StaleWordsError when it was changed since it was
    shown, RefusedWordsError for who has not looked for names.
    """
    notice = Notice.objects.select_for_update().get(pk=notice_id)
    if notice.version != version:
        raise StaleWordsError("Somebody else changed this notice in the meantime.")
    if not has_looked:
        raise RefusedWordsError("Look for names and addresses in words and pictures first.")
    needs = list_notice_needs(notice)
    if needs:
        raise NotReadyError(needs)
    if notice.state == NoticeState.READY:
        return notice
    notice.state, notice.ready_at = NoticeState.READY, clock.now()
    notice.withdrawn_at, notice.withdrawn_why = None, ""
    notice.version += 1
    notice.save()
    note_entry(notice.subject, f"Notice made public: {notice.title}", actor=actor)
    return notice


@transaction.atomic
def withdraw_notice(notice_id: int, *, why: str, actor: User) -> Notice:
    """Take a notice back; raises RefusedWordsError without a reason."""
    if not why.strip():
        raise RefusedWordsError("Say why the notice is withdrawn.")
    notice = Notice.objects.select_for_update().get(pk=notice_id)
    if notice.state == NoticeState.WITHDRAWN:
        return notice
    notice.state, notice.withdrawn_at = NoticeState.WITHDRAWN, clock.now()
    notice.withdrawn_why = why.strip()
    notice.version += 1
    notice.save()
    what = f"Notice withdrawn: {notice.title}"
    note_entry(notice.subject, what, actor=actor, why=why.strip())
    return notice


def _persons_named(notice: Notice, statement: Statement) -> list[str]:
    """Return a sentence when what everybody reads names a person whose picture is shown.

    The description of a picture is read out to whoever cannot see it, and a reply stands below.
    """
    words = [statement.text, notice.title, notice.caution]
    for picture in shown_pictures(statement):
        words += [picture.shows, picture.photo.alt_text]
    words += [each.text for each in statement.replies.all() if each.withdrawn_at is None]
    said = "\n".join(map(fold, words))
    names: Sequence[str] = [
        name
        for picture in statement.pictures.all()
        if (case := picture.photo.case)
        for name in (case.person_name, case.handle, case.email, case.owner_name)
        if name
    ]
    pattern = pattern_of(names)
    if pattern and pattern.search(said):
        return ["The words name the person whose picture is shown. Take the name out."]
    return []
