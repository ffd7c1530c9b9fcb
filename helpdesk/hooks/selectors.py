"""Reading sources, targets and what went either way."""

from django.db.models import QuerySet

from helpdesk.core.paging import KeysetPage, keyset_page
from helpdesk.hooks.models import HookDelivery, HookMessage, HookSource, HookTarget

PAGE_SIZE = 30


def list_sources() -> QuerySet[HookSource]:
    """Return every source by name."""
    return HookSource.objects.order_by("name")


def list_targets() -> QuerySet[HookTarget]:
    """Return every target by name, with its source."""
    return HookTarget.objects.select_related("source").order_by("name")


def list_messages(source: HookSource, after: str = "") -> KeysetPage[HookMessage]:
    """Return a page of what came from a source, newest first."""
    return keyset_page(
        source.messages.select_related("case"),
        fields=("-received_at", "-id"),
        after=after,
        size=PAGE_SIZE,
    )


def list_deliveries(target: HookTarget, after: str = "") -> KeysetPage[HookDelivery]:
    """Return a page of what went to a target, newest first."""
    return keyset_page(
        target.deliveries.select_related("case"),
        fields=("-created_at", "-id"),
        after=after,
        size=PAGE_SIZE,
    )
