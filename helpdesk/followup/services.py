"""Ask how it went, once an answer, and close what has gone silent."""

from django.conf import settings
from django.db import transaction
from django.template.loader import render_to_string

from helpdesk.accounts.models import User
from helpdesk.answers.selectors import list_sent_answers
from helpdesk.cases.models import Case, CaseState, MessageKind
from helpdesk.cases.services import add_message, change_state, record_event
from helpdesk.core import clock
from helpdesk.core.errors import WrongStateError
from helpdesk.followup.selectors import BATCH, list_due_by_mail, list_silent_cases
from helpdesk.outbox.models import MailKind
from helpdesk.outbox.services import queue_mail


def ask_due_cases() -> int:
    """Ask by mail wherever the day has come; return how many were asked."""
    return sum(
        _ask_by_mail(pk) for pk in list(list_due_by_mail().values_list("pk", flat=True)[:BATCH])
    )


@transaction.atomic
def mark_asked(case_id: int, actor: User) -> Case:
    """Note that a reviewer asked by another channel; asking twice is noted once.

    Raises WrongStateError when the case no longer waits for an outcome.
    """
    case = Case.objects.select_for_update().get(pk=case_id)
    if case.state != CaseState.ANSWERED:
        raise WrongStateError("This case is not waiting for an outcome any more.")
    if case.follow_up_on is not None:
        _note_asked(case, write_question(case), actor=actor)
    return case


def close_silent_cases() -> int:
    """Close answered cases nobody has written about for a long time; return how many."""
    days = settings.CLOSE_SILENT_DAYS
    if days <= 0:
        return 0
    found = list(list_silent_cases(days).values_list("pk", flat=True)[:BATCH])
    return sum(_close_silent(pk, days) for pk in found)


def write_question(case: Case) -> str:
    """Return the words that ask how it went, without an address to open."""
    return _render(case, is_mail=False)


@transaction.atomic
def _ask_by_mail(case_id: int) -> bool:
    """Write one letter; the row is read again, for it may have changed since it was listed."""
    case = list_due_by_mail().select_for_update().filter(pk=case_id).first()
    if case is None:
        return False
    answer = list_sent_answers(case).last()
    about = f"answer-{answer.pk}" if answer else f"case-{case.pk}-{case.follow_up_on}"
    queue_mail(
        case,
        kind=MailKind.FOLLOW_UP,
        subject=render_to_string("followup/email/subject.txt", {"case": case}).strip(),
        text=_render(case, is_mail=True),
        dedupe_key=f"follow-up:{about}",
        is_automatic=True,
    )
    _note_asked(case, _render(case, is_mail=False))
    return True


@transaction.atomic
def _close_silent(case_id: int, days: int) -> bool:
    case = list_silent_cases(days).select_for_update().filter(pk=case_id).first()
    if case is None:
        return False
    why = f"No word for {days} days. A reply or an outcome opens it again."
    change_state(case, CaseState.CLOSED, why=why)
    return True


def _note_asked(case: Case, words: str, *, actor: User | None = None) -> None:
    """Record that the person was asked; there is no second reminder."""
    now = clock.now()
    case.follow_up_on = None
    case.save(update_fields=["follow_up_on"])
    add_message(case, kind=MessageKind.FOLLOW_UP, body=words, author=actor, at=now)
    record_event(case, kind="follow_up", what="Asked how it went", actor=actor, at=now)


def _render(case: Case, *, is_mail: bool) -> str:
    given = case.person_name.split()
    context = {
        "case": case,
        "greeting": given[0] if given else case.handle,
        "is_mail": is_mail,
        "desk_name": settings.DESK_NAME,
    }
    return render_to_string("followup/email/text.txt", context).strip()
