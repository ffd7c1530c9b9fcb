"""What the desk's page frame shows: how many cases wait."""

import functools
from typing import Any

from django.http import HttpRequest
from django.utils.functional import lazystr

from helpdesk.cases.selectors import COUNT_LIMIT, count_waiting_cases


class _WaitingLabel:
    """Counts once, when a page first prints it, so that public pages cost no query."""

    @functools.cached_property
    def words(self) -> str:
        """The count as the tab shows it."""
        count = count_waiting_cases()
        return f"{COUNT_LIMIT - 1}+" if count >= COUNT_LIMIT else str(count)

    def __str__(self) -> str:
        return self.words


def tabs(request: HttpRequest) -> dict[str, Any]:
    """Return the count beside the queue's tab."""
    return {"waiting_label": lazystr(_WaitingLabel())}
