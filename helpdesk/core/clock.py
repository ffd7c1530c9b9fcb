"""The desk's clock, in one place so that a test can set it."""

import datetime

from django.utils import timezone


def now() -> datetime.datetime:
    """Return the current moment, aware, in UTC."""
    return timezone.now()


def today() -> datetime.date:
    """Return today's date in the desk's time zone."""
    return timezone.localdate(now())
