"""What reviewers do with a case beyond weighing it: take the next, ask, reveal, close."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from django.conf import settings
from django.db import transaction
from django.template.loader import render_to_string

from helpdesk.accounts.models import User
from helpdesk.answers.panel import channel_of
from helpdesk.cases.errors import AlreadyTakenError
from helpdesk.cases.models import Case, CaseState, Channel, Message, MessageKind, Outcome
from helpdesk.cases.services import (
    add_message,
    change_state,
    claim_case,
    issue_link,
    record_event,
    record_outcome,
    update_facts,
)
from helpdesk.core import clock
from helpdesk.core.errors import WrongStateError
from helpdesk.diagnosis.engine import FindingInfo, finding_info
from helpdesk.diagnosis.selectors import get_view
from helpdesk.outbox.deliveries import is_carried
from helpdesk.outbox.models import LINK_MARK, MailKind
from helpdesk.outbox.services import private_address, queue_mail
from helpdesk.review.errors import NothingAskedError, NothingToTakeError
from helpdesk.review.read_facts import ReadFact, list_read_facts
from helpdesk.review.selectors import find_next_cases, find_recent_question

MOST_ASKED = 5
CANDIDATES = 8  # cases tried in turn when others take the first ones at the same moment
TWICE_WITHIN = datetime.timedelta(minutes=2)  # the same question again is a second press


@dataclass(frozen=True)
class Asked:
    """A question that was kept; `text` is to be pasted where no letter goes, else ""."""

    message: Message
    text: str


def take_next_case(user: User) -> Case:
    """Give the first case nobody has to a reviewer.

    Raises NothingToTakeError when there is none.
    """
    for case_id in find_next_cases(limit=CANDIDATES):
        try:
            return claim_case(case_id, user=user)
        except AlreadyTakenError:  # a colleague was faster; the next one will do
            continue
    raise NothingToTakeError("No case is waiting for somebody to take it.")


@transaction.atomic
def ask_person(case: Case, finding_ids: Sequence[str], *, words: str, actor: User) -> Asked:
    """Ask the person: keep the question, send it by mail or return it for pasting, and wait.

    Raises NothingAskedError without question and words, UnknownThingError for a finding there is
    not, TransitionError when the case is closed.
    """
    infos = [finding_info(name) for name in dict.fromkeys(finding_ids)]
    said = words.strip()
    if not infos and not said:
        raise NothingAskedError("Tick a question or write one in your own words.")
    if len(infos) > MOST_ASKED:
        raise NothingAskedError(f"Please ask at most {MOST_ASKED} questions at once.")
    locked = Case.objects.select_for_update().get(pk=case.pk)
    questions = [_question(info) for info in infos]
    message = _find_same(locked, questions, said, actor)
    if message is None:
        change_state(locked, CaseState.ASKED, actor=actor)
        message = add_message(
            locked,
            kind=MessageKind.QUESTION,
            body=said,
            author=actor,
            questions=questions,
            channel=channel_of(locked),
        )
        count = len(infos) or 1
        record_event(
            locked,
            kind="asked",
            what="One question asked" if count == 1 else f"{count} questions asked",
            actor=actor,
            data={"findings": [info.id for info in infos], "message": message.pk},
        )
    case.refresh_from_db()
    return Asked(message, _deliver(locked, message, actor))


@transaction.atomic
def keep_read_facts(case: Case, *, actor: User) -> Sequence[ReadFact]:
    """Fill the empty facts of a case from its words; return what was filled.

    A fact somebody gave stays as it is, whatever the words say.
    """
    locked = Case.objects.select_for_update().get(pk=case.pk)
    filled = [fact for fact in list_read_facts(locked, get_view(locked)) if fact.is_new]
    update_facts(
        locked.pk, {fact.field: fact.value for fact in filled}, version=locked.version, actor=actor
    )
    return filled


@transaction.atomic
def enter_outcome(case: Case, *, result: str, remedy: str, words: str, actor: User) -> Outcome:
    """Keep what the person told a reviewer of how it went.

    Raises WrongStateError before an answer was sent, or when the person had everything erased.
    """
    locked = Case.objects.select_for_update().get(pk=case.pk)
    if locked.erased_at:
        raise WrongStateError("This case was erased at the person's wish.")
    if not locked.answers.filter(sent_at__isnull=False).exists():
        raise WrongStateError("There is no outcome to enter before an answer was sent.")
    return record_outcome(
        locked, result=result, remedy=remedy, words=words, said_by=locked.person, actor=actor
    )


@transaction.atomic
def reveal_contact(case: Case, *, actor: User) -> None:
    """Note that somebody looked at how the person can be reached."""
    record_event(case, kind="contact_shown", what="Contact data looked at", actor=actor)


def goes_by_mail(case: Case) -> bool:
    """Return True when questions to this person go by letter."""
    return bool(case.email) and case.reply_channel == Channel.MAIL


def _question(info: FindingInfo) -> dict[str, str | None]:
    return {"finding": info.id, "question": info.question, "help": info.help, "reply": None}


def _find_same(
    case: Case, questions: Sequence[dict[str, str | None]], words: str, actor: User
) -> Message | None:
    """Return the question just asked when the same form came twice."""
    last = find_recent_question(case, since=clock.now() - TWICE_WITHIN, author=actor)
    return last if last and last.questions == list(questions) and last.body == words else None


def _deliver(case: Case, message: Message, actor: User) -> str:
    """Queue the letter, or return the text for another channel with a fresh private address."""
    is_mail = goes_by_mail(case)
    if not is_mail and is_carried(case):  # a program hears of the question and passes it on
        return ""
    view = get_view(case)
    context = {
        "case": case,
        "message": message,
        "actor": actor,
        "dangers": view.dangers if view else (),
        "desk_name": settings.DESK_NAME,
        "private_link": LINK_MARK if is_mail else private_address(issue_link(case)),
    }
    text = render_to_string("review/email/question.txt", context).strip() + "\n"
    if not is_mail:
        return text
    subject = render_to_string("review/email/question_subject.txt", context)
    queue_mail(
        case,
        kind=MailKind.QUESTION,
        subject=subject,
        text=text,
        dedupe_key=f"question:{message.pk}",
    )
    return ""
