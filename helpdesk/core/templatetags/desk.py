"""How the desk writes times, chances and lengths."""

import datetime
import math

from django import template
from django.utils import timezone

from helpdesk.core import clock

register = template.Library()

# Words beside a probability, from the least value each is used for. Our own scale.
CHANCE_WORDS = (
    (0.80, "very likely"),
    (0.60, "likely"),
    (0.40, "about even"),
    (0.20, "possible"),
    (0.0, "unlikely"),
)


@register.filter
def percent(probability: float | None) -> str:
    """Return a probability as a whole percentage that never claims certainty."""
    if probability is None:
        return "–"
    if probability < 0.005:
        return "<1%"
    if probability > 0.995:
        return ">99%"
    return f"{round(probability * 100)}%"


@register.filter
def whole_percent(probability: float | None) -> int:
    """Return a probability as 0 to 100 for a meter's value."""
    return round((probability or 0.0) * 100)


@register.filter
def chance_word(probability: float | None) -> str:
    """Return the word that goes with a probability."""
    value = probability or 0.0
    return next(word for least, word in CHANCE_WORDS if value >= least)


@register.filter
def signed(value: float) -> str:
    """Return a weight with sign and one decimal, with a true minus."""
    return f"+{value:.1f}" if value >= 0 else f"−{-value:.1f}"


@register.filter
def length_s(seconds: float | None) -> str:
    """Return a length in seconds as m:ss, or h:mm:ss from one hour on."""
    if seconds is None:
        return "–"
    sign = "−" if seconds < 0 else ""
    total = abs(round(seconds))
    hours, rest = divmod(total, 3600)
    minutes, secs = divmod(rest, 60)
    return f"{sign}{hours}:{minutes:02}:{secs:02}" if hours else f"{sign}{minutes}:{secs:02}"


@register.filter
def waited(since: datetime.datetime | None) -> str:
    """Return how long ago a moment was, in the one largest unit."""
    if since is None:
        return ""
    seconds = max(0.0, (clock.now() - since).total_seconds())
    for size, word in ((86400, "day"), (3600, "hour"), (60, "minute")):
        if seconds >= size:
            count = math.floor(seconds / size)
            return f"{count} {word}{'' if count == 1 else 's'}"
    return "less than a minute"


@register.filter
def moment(value: datetime.datetime | None) -> str:
    """Return a moment as "Tue 24 Nov, 09:12" in the desk's time zone, with the year if not this."""
    if value is None:
        return ""
    local = timezone.localtime(value)
    year = "" if local.year == timezone.localtime(clock.now()).year else f" {local.year}"
    return f"{local:%a} {local.day} {local:%b}{year}, {local:%H:%M}"


@register.filter
def day(value: datetime.date | None) -> str:
    """Return a date as "8 December", with the year when it is not this year."""
    if value is None:
        return ""
    year = "" if value.year == clock.today().year else f" {value.year}"
    return f"{value.day} {value:%B}{year}"
