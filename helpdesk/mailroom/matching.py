"""Which case a letter is about: told by what the desk gave out, never by the subject.

A signed reply address proves that the writer had a letter of the desk; a Message-ID in a thread
only suggests it, so it counts for the case's own person alone.
"""

from dataclasses import dataclass

from helpdesk.cases.models import Case
from helpdesk.mailroom.letters import Letter
from helpdesk.mailroom.models import IncomingMail
from helpdesk.outbox.addresses import find_case_id
from helpdesk.outbox.models import OutgoingMail


@dataclass(frozen=True)
class Match:
    """A case, how it was found, and whether the letter comes from its person's address."""

    case: Case
    by_address: bool
    is_persons: bool


def find_match(letter: Letter) -> Match | None:
    """Return the case a letter is about, or None."""
    for address in letter.recipients:
        case_id = find_case_id(address)
        case = Case.objects.filter(pk=case_id).first() if case_id else None
        if case:
            return Match(case, by_address=True, is_persons=_is_from_person(letter, case))
    case = _find_by_ids(letter)
    if case is None:
        return None
    return Match(case, by_address=False, is_persons=_is_from_person(letter, case))


def is_own_letter(letter: Letter) -> bool:
    """Return True when a letter carries the id of one the desk wrote itself."""
    return OutgoingMail.objects.filter(message_id=letter.message_id).exists()


def _find_by_ids(letter: Letter) -> Case | None:
    """Return the case of the first id known: that of the desk's letters, then of letters in."""
    if not letter.earlier_ids:
        return None
    sent = {
        mail.message_id: mail.case
        for mail in OutgoingMail.objects.filter(
            message_id__in=letter.earlier_ids, case__isnull=False
        ).select_related("case")
    }
    came = {
        mail.message_id: mail.case
        for mail in IncomingMail.objects.filter(
            message_id__in=letter.earlier_ids, case__isnull=False
        ).select_related("case")
    }
    known = {**came, **sent}
    return next((known[each] for each in letter.earlier_ids if each in known), None)


def _is_from_person(letter: Letter, case: Case) -> bool:
    """Return True when a letter's sender is the address the desk answers for this case."""
    return bool(
        case.email and letter.sender and letter.sender.address.casefold() == case.email.casefold()
    )
