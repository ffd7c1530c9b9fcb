"""Reading cases."""

from django.db.models import Q, QuerySet

from helpdesk.cases.models import AccessLink, Case, Event, Message, MessageKind, QueueRank
from helpdesk.cases.tokens import hash_token
from helpdesk.core import clock

COUNT_LIMIT = 100


def list_open_cases() -> QuerySet[Case]:
    """Return the cases not closed, in queue order, with who has them."""
    return Case.objects.filter(queue_rank__lt=QueueRank.CLOSED).select_related("assigned_to")


def count_waiting_cases() -> int:
    """Return how many cases want something from the desk, counting no further than the limit."""
    ours = Q(queue_rank__lte=QueueRank.OURS)
    return len(Case.objects.filter(ours).order_by().values_list("pk")[:COUNT_LIMIT])


def find_case_by_token(token: str) -> Case | None:
    """Return the case a private address opens, or None; wrong, old and revoked look alike."""
    link = (
        AccessLink.objects.select_related("case")
        .filter(token_hash=hash_token(token), revoked_at__isnull=True, expires_at__gt=clock.now())
        .first()
    )
    return link.case if link else None


def list_events(case: Case) -> QuerySet[Event]:
    """Return a case's history, oldest first."""
    return case.events.order_by("at", "pk")


def list_conversation(case: Case) -> QuerySet[Message]:
    """Return the words between desk and person, oldest first, without internal notes."""
    return case.messages.exclude(kind=MessageKind.NOTE).select_related("author")
