"""What people outside the desk can do: report, reply, agree, tell the outcome, be forgotten."""

import logging
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial

from django.conf import settings
from django.db import transaction
from django.template.loader import render_to_string

from helpdesk.cases.models import (
    Case,
    CaseState,
    CreditKind,
    Message,
    MessageKind,
)
from helpdesk.cases.services import (
    PERSON,
    Consent,
    NewReport,
    add_message,
    change_state,
    issue_link,
    open_case,
    record_consent,
    record_event,
    request_diagnosis,
)
from helpdesk.core import clock
from helpdesk.core.jobs import run_job, start_job
from helpdesk.core.models import Job, JobState
from helpdesk.diagnosis.errors import UnknownThingError
from helpdesk.diagnosis.models import MarkSource
from helpdesk.diagnosis.services import keep_details, mark_finding
from helpdesk.incoming.services import keep_reply, lock_case, pass_to_desk, send_receipt
from helpdesk.incoming.values import Kept
from helpdesk.intake.selectors import find_open_questions
from helpdesk.keeping.erasing import BY_LINK, erase_case, note_removal
from helpdesk.outbox.models import MailKind
from helpdesk.outbox.services import queue_mail
from helpdesk.photos.services import attach_draft

logger = logging.getLogger(__name__)
STATES = ("present", "absent", "unknown")
SEEN_FIELD = "seen-"  # and the id of a finding: how forms name what is said of it
CONTACT = ("person_name", "reply_channel", "email", "handle", "handle_where")
MOST_LINKS = 5  # letters for one request; somebody with more cases has them one by one


@dataclass(frozen=True)
class WriterSays:
    """What a writer says of findings: a state for each answered, and those misread."""

    said: Mapping[str, str] = field(default_factory=dict)
    withdrawn: tuple[str, ...] = ()


NOTHING_SAID = WriterSays()


@dataclass(frozen=True)
class Submission:
    """The case a form led to, and the token of its private page ("" once it is erased)."""

    case: Case
    is_new: bool
    token: str


@transaction.atomic
def submit_report(new: NewReport, *, draft_key: str, says: WriterSays = NOTHING_SAID) -> Submission:
    """Open a case for a form with its photos and send a receipt; a form sent twice is one case."""
    case, is_new = open_case(new)
    # The row lock lets two posts at once follow each other, so a photo sent by both is kept once.
    case = Case.objects.select_for_update().get(pk=case.pk)
    if case.erased_at:
        return Submission(case=case, is_new=False, token="")
    attach_draft(draft_key, case, keeps_original=new.keeps_originals, from_follow_up=not is_new)
    details = keep_details(case, said=says.said, withdrawn=says.withdrawn)
    if is_new:
        _credit_finder(case, new)
        send_receipt(case)
    else:
        _keep_second_version(case, new)
        if details:
            request_diagnosis(case, cause="details came", key=f"details:{details.pk}")
    return Submission(case=case, is_new=is_new, token=issue_link(case))


def look_at_once(case: Case) -> None:
    """Let the engine look at a case now, so that a danger stands on the very next page.

    To be called after the commit. Should it fail, the job stays for the worker.
    """
    waiting = Job.objects.filter(
        kind="diagnose-case", payload__case=case.pk, state=JobState.WAITING
    )
    for job_id in waiting.values_list("pk", flat=True):
        run_job(job_id)


@transaction.atomic
def receive_reply(
    case_id: int, *, words: str, seen: Mapping[str, str], draft_key: str
) -> Message | None:
    """Keep a reply with its photos and what the person saw; the case is the desk's turn again.

    `seen` holds a state by finding; only findings that were asked count. Returns None when this
    very form was received before.
    """
    case = lock_case(case_id)
    taken = keep_reply(case, key=draft_key, words=words, keep=partial(_attach_reply, draft_key))
    if taken.message is None:
        return None
    for finding, state in _note_answers(case, taken.message, seen).items():
        _mark(case, finding, state)
    pass_to_desk(case, taken.message)
    return taken.message


@transaction.atomic
def change_consent(
    case_id: int, consent: Consent, *, guardian_name: str = "", by: str = ""
) -> Case:
    """Keep a change of consent; a guardian's agreement ends when the young person allows more.

    `guardian_name` is given when a guardian agrees to this very change.
    """
    case = lock_case(case_id)
    if not case.is_own_print:  # nobody speaks for the owner
        consent = replace(consent, may_publish_answer=False, may_show_photos=False)
    still_agreed = case.guardian_agreed and not _allows_more(case, consent)
    is_under_16 = consent.is_under_16 or case.is_under_16
    consent = replace(
        consent,
        is_under_16=is_under_16,
        guardian_agreed=is_under_16 and (bool(guardian_name) or still_agreed),
    )
    given_by = f"{guardian_name} (guardian)" if guardian_name else by or case.person_name or PERSON
    record_consent(case, consent, given_by=given_by[:80])
    return case


@transaction.atomic
def erase(case_id: int) -> Case:
    """Remove a person from a case, as they ask on their private page."""
    case = erase_case(case_id)
    note_removal("cases", 1, BY_LINK)
    return case


@transaction.atomic
def send_new_links(email: str) -> int:
    """Send a fresh private link for each recent case of an address; at most one an hour each.

    Returns the number of letters, which no visitor may learn.
    """
    hour = clock.now().strftime("%Y%m%d%H")
    cases = Case.objects.filter(email__iexact=email, erased_at__isnull=True).order_by("-pk")
    letters = 0
    for case in cases[:MOST_LINKS]:
        context = {"case": case, "desk_name": settings.DESK_NAME}
        mail = queue_mail(
            case,
            kind=MailKind.RECEIPT,
            subject=render_to_string("intake/email/new_link_subject.txt", context).strip(),
            text=render_to_string("intake/email/new_link_text.txt", context),
            dedupe_key=f"new-link:{case.pk}:{hour}",
            is_automatic=True,
        )
        letters += mail is not None
    return letters


def _keep_second_version(case: Case, new: NewReport) -> None:
    """Keep what is new in a form that was sent, changed and sent again.

    The words reach the reviewers like a reply; how to answer is taken over at once.
    """
    contact = {name: getattr(new, name) for name in CONTACT}
    if any(getattr(case, name) != value for name, value in contact.items()):
        Case.objects.filter(pk=case.pk).update(**contact)
        case.refresh_from_db(fields=CONTACT)
        event = record_event(case, kind="contact", what="Contact changed", actor_name=case.person)
        key = f"note-people:{case.pk}:{event.pk}"
        start_job("note-people", key=key, payload={"case": case.pk})
    body = _second_version(case, new)
    if not body or case.messages.filter(kind=MessageKind.REPLY, body=body).exists():
        return
    message = add_message(case, kind=MessageKind.REPLY, body=body, author_name=case.person)
    record_event(case, kind="reply", what="Form sent again, changed", actor_name=case.person)
    change_state(case, CaseState.RECEIVED, actor_name=case.person, why="The form came again")
    request_diagnosis(case, cause="a reply came", key=f"reply:{message.pk}")


def _second_version(case: Case, new: NewReport) -> str:
    """Return the story and the facts that differ from the first report, as words."""
    first = case.reports.first()
    if first is None:
        return ""
    lines = [] if new.story == first.story else [new.story]
    lines += [
        f"{name.replace('_', ' ')}: {words}"
        for name, words in new.facts_as_sent.items()
        if first.facts.get(name) != words
    ]
    return "\n".join(lines)


def _credit_finder(case: Case, new: NewReport) -> None:
    """Keep how a person who passes a print on wants to be named; it agrees to nothing else."""
    if new.is_own_print or new.consent.credit_kind == CreditKind.ANONYMOUS:
        return
    only_credit = replace(new.consent, may_publish_answer=False, may_show_photos=False)
    record_consent(case, only_credit, given_by=new.person_name or PERSON)


def _attach_reply(draft_key: str, case: Case) -> Kept:
    """Give the photos of a reply's form to the case."""
    report = case.reports.first()
    keeps_original = bool(report and report.keeps_originals)
    photos = attach_draft(draft_key, case, keeps_original=keeps_original, from_follow_up=True)
    return Kept(photos=len(photos))


def _note_answers(case: Case, reply: Message, seen: Mapping[str, str]) -> dict[str, str]:
    """Write the replies into the questions that were asked; return the state by finding."""
    asked = find_open_questions(list(case.messages.exclude(pk=reply.pk)))
    if asked is None:
        return {}
    said = {}
    for question in asked.message.questions:
        state = seen.get(question.get("finding", ""))
        if state in STATES and not question.get("reply"):
            question["reply"] = state
            said[question["finding"]] = state
    asked.message.save(update_fields=["questions"])
    return said


def _mark(case: Case, finding: str, state: str) -> None:
    """Set what the person saw; a fault of the engine must not cost them their reply."""
    try:
        with transaction.atomic():
            mark_finding(case, finding, state, source=MarkSource.PERSON)
    except UnknownThingError:  # asked under a revision of the knowledge that had this finding
        logger.info("Finding %s of case %s is not known any more", finding, case.pk)
    except Exception:  # the answer stays with the question, where a reviewer sees it
        logger.exception("Finding %s of case %s could not be set", finding, case.pk)


def _allows_more(case: Case, consent: Consent) -> bool:
    """Return True when a consent goes beyond what the case allows now."""
    more_shown = (consent.may_publish_answer and not case.may_publish_answer) or (
        consent.may_show_photos and not case.may_show_photos
    )
    is_named = consent.credit_kind != CreditKind.ANONYMOUS
    other_name = (consent.credit_kind, consent.credit_as) != (case.credit_kind, case.credit_as)
    return more_shown or (is_named and other_name)
