"""What went out about a case, whatever carried it.

Letters are this app's own. An app that carries words by another route registers here what it has
sent, for the one timeline, and which cases it can reach by itself, so that nobody copies by hand
what a program passes on.
"""

import datetime
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from helpdesk.cases.models import Case


@dataclass(frozen=True, kw_only=True)
class Delivery:
    """One thing on its way: `state` is waiting, sent, failing, given up or not delivered."""

    at: datetime.datetime
    channel: str  # a value of cases.Channel
    what: str  # "answer", "question", … as the timeline says it
    state: str
    words: str = ""  # why it failed, or anything worth knowing of the delivery
    link: str = ""  # a page of the desk with more about it


Source = Callable[[Case], Iterable[Delivery]]
Reach = Callable[[Case], bool]
_sources: dict[str, Source] = {}
_reaches: dict[str, Reach] = {}


def delivery_source(name: str) -> Callable[[Source], Source]:
    """Register a function that lists what one route carried about a case."""

    def register(function: Source) -> Source:
        _sources[name] = function
        return function

    return register


def reaches(name: str) -> Callable[[Reach], Reach]:
    """Register a function that says whether a program passes on what the desk tells this case."""

    def register(function: Reach) -> Reach:
        _reaches[name] = function
        return function

    return register


def list_deliveries(case: Case) -> list[Delivery]:
    """Return everything sent about a case, oldest first."""
    found = [delivery for source in _sources.values() for delivery in source(case)]
    return sorted(found, key=lambda delivery: delivery.at)


def is_carried(case: Case) -> bool:
    """Return True when a program passes the desk's words on, so that nobody need copy them."""
    return any(function(case) for function in _reaches.values())
