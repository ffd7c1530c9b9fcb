"""What the desk's page frame shows: how many cases wait."""

from typing import Any

from django.http import HttpRequest
from django.utils.functional import lazystr

from helpdesk.cases.selectors import COUNT_LIMIT, count_waiting_cases


class _WaitingLabel:
    """Counts when a page prints it, so that public pages cost no query."""

    def __str__(self) -> str:
        count = count_waiting_cases()
        return f"{COUNT_LIMIT - 1}+" if count >= COUNT_LIMIT else str(count)


def tabs(request: HttpRequest) -> dict[str, Any]:
    """Return the count beside the queue's tab."""
    return {"waiting_label": lazystr(_WaitingLabel())}
