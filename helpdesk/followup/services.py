"""Ask how it went, remind once, and close what was asked in vain or has gone silent."""

import datetime
from collections.abc import Sequence

from django.conf import settings
from django.db import transaction
from django.template.loader import render_to_string

from helpdesk.accounts.models import User
from helpdesk.answers.selectors import list_sent_answers
from helpdesk.cases.models import Case, CaseState, Channel, MessageKind, Outcome
from helpdesk.cases.services import add_message, change_state, record_event, record_outcome
from helpdesk.core import clock
from helpdesk.core.errors import WrongStateError
from helpdesk.followup.links import ANY, SAYINGS, link_to_tell
from helpdesk.followup.models import FIRST, REMINDER, Asking
from helpdesk.followup.selectors import (
    BATCH,
    count_askings,
    find_told,
    list_due_by_mail,
    list_mailable,
    list_same_person,
    list_silent_cases,
    list_unheard_cases,
    most_askings,
)
from helpdesk.outbox.models import MailKind
from helpdesk.outbox.services import queue_mail

NOT_WAITING = "This case is not waiting for an outcome any more."


def ask_due_cases() -> int:
    """Ask by mail wherever the day has come; return how many were asked."""
    return sum(_ask_by_mail(pk) for pk in list_mailable())


@transaction.atomic
def mark_asked(case_id: int, actor: User) -> Case:
    """Note that a reviewer asked by another channel; asking twice is noted once.

    Raises WrongStateError when the case no longer waits for an outcome.
    """
    case, others = _lock_with_others(case_id)
    if case.state != CaseState.ANSWERED:
        raise WrongStateError(NOT_WAITING)
    if _is_due(case) and _may_be_asked(case, others, actor=actor):
        words = write_question(case, number=count_askings([case, *others]) + 1)
        _note_asked(case, others, words, channel=case.reply_channel, actor=actor)
    return case


@transaction.atomic
def let_rest(case_id: int, actor: User) -> Case:
    """Take a case off the list of those to be asked, without asking.

    Raises WrongStateError when the case no longer waits for an outcome.
    """
    case = Case.objects.select_for_update().get(pk=case_id)
    if case.state != CaseState.ANSWERED:
        raise WrongStateError(NOT_WAITING)
    if case.follow_up_on is not None:
        _plan(case, None)
        record_event(case, kind="follow_up", what="Will not be asked how it went", actor=actor)
    return case


@transaction.atomic
def enter_result(case_id: int, *, result: str, actor: User) -> Outcome:
    """Keep what somebody told the reviewer who asked.

    Raises WrongStateError when the case no longer waits for an outcome.
    """
    case = Case.objects.select_for_update().get(pk=case_id)
    if case.state != CaseState.ANSWERED or case.erased_at:
        raise WrongStateError(NOT_WAITING)
    return record_outcome(case, result=result, said_by=case.person, actor=actor)


def close_unheard_cases() -> int:
    """Close cases that were asked for the last time and said nothing; return how many."""
    days = settings.UNKNOWN_DAYS
    if days <= 0:
        return 0
    found = list(list_unheard_cases(days).values_list("pk", flat=True)[:BATCH])
    return sum(_close_unheard(pk, days) for pk in found)


def close_silent_cases() -> int:
    """Close answered cases nobody has written about for a long time; return how many."""
    days = settings.CLOSE_SILENT_DAYS
    if days <= 0:
        return 0
    found = list(list_silent_cases(days).values_list("pk", flat=True)[:BATCH])
    return sum(_close_silent(pk, days) for pk in found)


def write_question(case: Case, *, number: int = FIRST) -> str:
    """Return the words that ask how it went, or remind, in a channel other than mail."""
    return _render(case, number=number, is_mail=False)


@transaction.atomic
def _ask_by_mail(case_id: int) -> bool:
    """Write one letter; the row is read again, for it may have changed since it was listed."""
    case, others = _lock_with_others(case_id)
    if not list_due_by_mail().filter(pk=case_id).exists() or not _may_be_asked(case, others):
        return False
    number = count_askings([case, *others]) + 1
    answer = list_sent_answers(case).last()
    about = f"answer-{answer.pk}" if answer else f"case-{case.pk}-{case.waiting_since:%Y%m%d%H%M}"
    context = {"case": case, "is_reminder": number == REMINDER}
    letter = queue_mail(
        case,
        kind=MailKind.FOLLOW_UP,
        subject=render_to_string("followup/email/subject.txt", context).strip(),
        text=_render(case, number=number, is_mail=True),
        dedupe_key=f"follow-up:{about}" + (":reminder" if number == REMINDER else ""),
        is_automatic=True,
    )
    if letter is None:  # the address was marked since it was listed; a reviewer sees the case
        return False
    _note_asked(case, others, _render(case, number=number, is_mail=False), channel=Channel.MAIL)
    return True


@transaction.atomic
def _close_unheard(case_id: int, days: int) -> bool:
    case = list_unheard_cases(days).select_for_update().filter(pk=case_id).first()
    if case is None:
        return False
    askings = case.askings.filter(about=case.waiting_since)
    last, times = askings.latest("at", "pk"), "twice" if askings.count() > 1 else "once"
    record_event(
        case,
        kind="outcome_unknown",
        what=f"Outcome unknown: asked {times}, nothing heard",
        data={"asked": askings.count()},
    )
    day = f"{last.at.date():%d %B %Y}".lstrip("0")
    why = (
        f"Asked {times} how it went, last on {day}, and nothing was heard. "
        "A reply, or word that it did not work, opens it again."
    )
    change_state(case, CaseState.CLOSED, why=why)
    return True


@transaction.atomic
def _close_silent(case_id: int, days: int) -> bool:
    case = list_silent_cases(days).select_for_update().filter(pk=case_id).first()
    if case is None:
        return False
    why = f"No word for {days} days. A reply or an outcome opens it again."
    change_state(case, CaseState.CLOSED, why=why)
    return True


def _lock_with_others(case_id: int) -> tuple[Case, list[Case]]:
    """Return a case and the others of its person about the same print, locked in one order."""
    others = list_same_person(Case.objects.get(pk=case_id))
    ids = [case_id, *(other.pk for other in others)]
    locked = list(Case.objects.select_for_update().filter(pk__in=ids).order_by("pk"))
    case = next(found for found in locked if found.pk == case_id)
    return case, [found for found in locked if found.pk != case_id]


def _is_due(case: Case) -> bool:
    return case.follow_up_on is not None and case.follow_up_on <= clock.today()


def _may_be_asked(case: Case, others: Sequence[Case], *, actor: User | None = None) -> bool:
    """Return True unless the person was heard or asked about the same print in another case."""
    told = find_told(case, others)
    if told is None and count_askings([case, *others]) < most_askings():
        return True
    what = f"Not asked: told about case {told.case_id}" if told else "Not asked: asked already"
    _plan(case, None)
    record_event(case, kind="follow_up", what=what, actor=actor)
    return False


def _note_asked(
    case: Case, others: Sequence[Case], words: str, *, channel: str, actor: User | None = None
) -> None:
    """Record that a person was asked, on each of their cases about the print, and plan ahead."""
    now = clock.now()
    number = count_askings([case, *others]) + 1
    again_on = None
    if number < most_askings():
        again_on = clock.today() + datetime.timedelta(days=settings.REMIND_DAYS)
    add_message(case, kind=MessageKind.FOLLOW_UP, body=words, author=actor, channel=channel, at=now)
    what = "Asked how it went" if number == FIRST else "Asked once more how it went"
    for asked in (case, *(other for other in others if other.state == CaseState.ANSWERED)):
        is_own = asked.pk == case.pk
        Asking.objects.get_or_create(
            case=asked,
            about=asked.waiting_since,
            number=number,
            defaults={
                "at": now,
                "channel": channel,
                "asked_by": actor,
                "along_with": None if is_own else case,
            },
        )
        _plan(asked, again_on)
        words_of_event = what if is_own else f"{what}, with case {case.pk}"
        record_event(asked, kind="follow_up", what=words_of_event, actor=actor, at=now)


def _plan(case: Case, day: datetime.date | None) -> None:
    """Keep when somebody is to be asked next, or that nobody is."""
    case.follow_up_on = day
    case.save(update_fields=["follow_up_on"])


def _render(case: Case, *, number: int, is_mail: bool) -> str:
    given = case.person_name.split()
    context = {
        "case": case,
        "greeting": given[0] if given else case.handle,
        "is_mail": is_mail,
        "is_reminder": number >= REMINDER,
        "is_last": number >= most_askings(),
        "sayings": [(words, link_to_tell(case, result)) for result, words in SAYINGS.items()],
        "link": link_to_tell(case, ANY),
        "desk_name": settings.DESK_NAME,
    }
    return render_to_string("followup/email/text.txt", context).strip()
