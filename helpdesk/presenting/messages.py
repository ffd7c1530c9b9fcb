"""Reading what a presenter’s page sends."""

import datetime
import json
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from helpdesk.presenting.errors import EventNotUnderstoodError
from helpdesk.presenting.models import StageEvent

MOST_EVENTS = 500
MOST_PARTS = 500
LATEST_MS = 253_402_300_799_000  # the last second of the year 9999


@dataclass(frozen=True, kw_only=True)
class Message:
    """One event of a show as a page sent it."""

    event_id: uuid.UUID
    kind: str
    at: datetime.datetime
    part: int | None = None
    is_correction: bool = False
    order: Sequence[int] = ()
    base: Sequence[int] = ()  # the order that was changed into `order`


def read_messages(body: bytes) -> list[Message]:
    """Return the events in a request, in the order they were done.

    Raises EventNotUnderstoodError for anything else; then nothing of the request is taken.
    """
    try:
        events = json.loads(body)["events"]
    except (ValueError, TypeError, KeyError, RecursionError) as error:
        raise EventNotUnderstoodError("The request is no list of events.") from error
    if not isinstance(events, list) or len(events) > MOST_EVENTS:
        raise EventNotUnderstoodError(f"Send a list of at most {MOST_EVENTS} events.")
    return [_read(event) for event in events]


def _read(event: Any) -> Message:
    """Return one event."""
    if not isinstance(event, dict):
        raise EventNotUnderstoodError("An event is no object.")
    kind = event.get("kind")
    if kind not in StageEvent.Kind.values:
        raise EventNotUnderstoodError(f"“{str(kind)[:20]}” is no kind of event.")
    try:
        event_id = uuid.UUID(str(event.get("id")))
    except ValueError as error:
        raise EventNotUnderstoodError("An event has no id.") from error
    at_ms = _whole(event.get("at_ms"), "at_ms", most=LATEST_MS)
    if at_ms is None:
        raise EventNotUnderstoodError("An event has no time.")
    return Message(
        event_id=event_id,
        kind=kind,
        at=datetime.datetime.fromtimestamp(at_ms / 1000, tz=datetime.UTC),
        part=_whole(event.get("part"), "part"),
        is_correction=event.get("correct") is True,
        order=_parts(event.get("order")),
        base=_parts(event.get("base")),
    )


def _parts(value: Any) -> list[int]:
    """Return a list of parts by their ids."""
    value = [] if value is None else value
    if not isinstance(value, list) or len(value) > MOST_PARTS:
        raise EventNotUnderstoodError("An order is no list of parts.")
    return [number for each in value if (number := _whole(each, "order")) is not None]


def _whole(value: Any, name: str, *, most: int = 2**31 - 1) -> int | None:
    """Return a whole number that is no less than 0, or None for nothing."""
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= most:
        raise EventNotUnderstoodError(f"“{name}” is no whole number in its range.")
    return value
