"""Reading letters for the mailroom's pages."""

from collections.abc import Sequence

from django.db.models import Q, QuerySet

from helpdesk.cases.models import Case
from helpdesk.core.paging import KeysetPage, keyset_page
from helpdesk.mailroom.automatic import Kind
from helpdesk.mailroom.models import IncomingMail, Mailbox, MailState

PAGE_SIZE = 30
COUNT_LIMIT = 100
LOOK = Q(state=MailState.QUARANTINED) | Q(state=MailState.KEPT, kind=Kind.MATCH)
# The parts of the mailroom, each with what stands in it.
SHELVES: dict[str, Q] = {
    "look": LOOK,
    "taken": Q(state__in=(MailState.TAKEN, MailState.WAITING)),
    "automatic": Q(state=MailState.KEPT) & ~Q(kind=Kind.MATCH),
    "done": Q(state=MailState.DISMISSED),
}
DEFAULT_SHELF = "look"


def list_letters(shelf: str, after: str = "") -> KeysetPage[IncomingMail]:
    """Return a page of one part of the mailroom, newest first."""
    rows = IncomingMail.objects.filter(SHELVES[shelf]).select_related("case", "suggested_case")
    return keyset_page(
        rows.defer("text", "words", "fields"),
        fields=("-received_at", "-id"),
        after=after,
        size=PAGE_SIZE,
    )


def count_to_look_at() -> int:
    """Return how many letters wait for a reviewer, counting no further than the limit."""
    return len(IncomingMail.objects.filter(LOOK).order_by().values_list("pk")[:COUNT_LIMIT])


def get_letter(mail_id: int) -> IncomingMail:
    """Return one letter that is not erased; raises IncomingMail.DoesNotExist."""
    there = IncomingMail.objects.select_related("case", "suggested_case")
    return there.exclude(state=MailState.ERASED).get(pk=mail_id)


def list_letters_of(case: Case) -> QuerySet[IncomingMail]:
    """Return the letters about a case, and those that may be, oldest first."""
    mine = IncomingMail.objects.filter(Q(case=case) | Q(suggested_case=case))
    return mine.exclude(state=MailState.ERASED).order_by("received_at", "pk")


def list_mailboxes(names: Sequence[str]) -> list[Mailbox]:
    """Return what is remembered of the mailboxes in use, in their order."""
    known = {box.name: box for box in Mailbox.objects.filter(name__in=names)}
    return [known.get(name) or Mailbox(name=name) for name in names]
