"""Who of the cases joined to a lead gets its answer, by which way, and in which words."""

from dataclasses import dataclass

from helpdesk.answers.letters import normalise, split_body
from helpdesk.answers.models import Answer
from helpdesk.answers.publishing import find_names
from helpdesk.answers.wording import write_opening
from helpdesk.cases.models import Case, CaseState, Channel
from helpdesk.cases.services import UNANSWERED
from helpdesk.outbox.deliveries import is_carried

GREETING = "hello"
MOST_GREETING = 4  # words of a line that only greets


@dataclass(frozen=True)
class Waiting:
    """A joined case whose person the lead's answer has not reached yet, with its draft if any."""

    case: Case
    draft: Answer | None


def addresses_of(case: Case) -> frozenset[tuple[str, str]]:
    """Return what somebody can be reached by: mail address, and handle with where it belongs."""
    found = set()
    if case.email:
        found.add((str(Channel.MAIL), case.email.strip().casefold()))
    if case.handle:
        where = case.handle_where.strip().casefold() or case.reply_channel
        found.add((where, case.handle.strip().lstrip("@").casefold()))
    return frozenset(found)


def route_of(case: Case) -> str:
    """Return the channel an answer takes to a person without a reviewer's hand, or ""."""
    if case.email and case.reply_channel == Channel.MAIL:
        return Channel.MAIL
    return case.reply_channel if is_carried(case) else ""


def is_to_be_answered(joined: Case) -> bool:
    """Return True while a joined case wants its lead's answer.

    Whoever the desk had answered before the cases were joined is not answered twice, and whoever
    said that it worked is left alone.
    """
    if joined.erased_at:
        return False
    has_copy = joined.answers.filter(sent_at__isnull=False, copy_of__isnull=False).exists()
    return joined.state in UNANSWERED or (joined.state == CaseState.ANSWERED and has_copy)


def reword(answer: Answer, joined: Case) -> str:
    """Return an answer's text with the opening changed for the person of a joined case."""
    own = set(write_opening(answer.case).split("\n\n"))
    parts = [part.text for part in split_body(answer.body)]
    rest = [part for part in parts if part not in own]
    if rest and rest[0].casefold().startswith(GREETING) and len(rest[0].split()) <= MOST_GREETING:
        rest = rest[1:]
    return normalise("\n\n".join([write_opening(joined, is_shared=True), *rest]))


def names_in(text: str, lead: Case, joined: Case) -> list[str]:
    """Return what in a text may tell the person of a joined case who the lead's is."""
    own = set(joined.person_name.casefold().split())
    return [name for name in find_names(text, lead) if name.casefold() not in own]


def list_waiting(lead: Case) -> list[Waiting]:
    """Return the joined cases that the lead's latest answer has not reached, the oldest first."""
    latest = lead.answers.filter(sent_at__isnull=False).order_by("sent_at", "pk").last()
    if latest is None:
        return []
    return [
        Waiting(joined, joined.answers.filter(sent_at__isnull=True).first())
        for joined in lead.joined.order_by("opened_at", "pk")
        if is_to_be_answered(joined)
        and not joined.answers.filter(copy_of=latest, sent_at__isnull=False).exists()
    ]


def describe_passing(case: Case) -> str:
    """Return what became of the latest answer of a lead beside its own person, as sentences."""
    latest = case.answers.filter(sent_at__isnull=False).order_by("sent_at", "pk").last()
    passed = latest.copies.filter(sent_at__isnull=False).count() if latest else 0
    waiting = len(list_waiting(case))
    words = ""
    if passed:
        words += f" {_count(passed)} joined to this one {'has' if passed == 1 else 'have'} it, too."
    if waiting:
        verb = "waits" if waiting == 1 else "wait"
        words += f" {_count(waiting)} {verb} for you to pass it on: see Joined cases."
    return words


def _count(cases: int) -> str:
    return "One case" if cases == 1 else f"{cases} cases"
