"""The desk's clock, in one place so that the demo and the tests can set it."""

import contextlib
import datetime
from collections.abc import Iterator
from contextvars import ContextVar

from django.utils import timezone

_fixed: ContextVar[datetime.datetime | None] = ContextVar("fixed_moment", default=None)


def now() -> datetime.datetime:
    """Return the current moment, aware, in UTC."""
    return _fixed.get() or timezone.now()


def today() -> datetime.date:
    """Return today's date in the desk's time zone."""
    return timezone.localdate(now())


@contextlib.contextmanager
def standing_at(moment: datetime.datetime) -> Iterator[None]:
    """Let the clock stand at an aware moment while the block runs."""
    token = _fixed.set(moment)
    try:
        yield
    finally:
        _fixed.reset(token)
