"""Read days and moments as people write them into tables; what has two meanings is asked.

Years first is ISO 8601; a month in letters is plain; dots mean day, month, year, as wherever they
are used (common practice, no source). Slashes and dashes between three numbers may begin with the
day or with the month: one value above 12 decides a whole column, and where none does, or where two
disagree, a person has to.
"""

import datetime
import re
from collections.abc import Iterable
from enum import StrEnum

from django.utils import timezone

NOON = datetime.time(12)
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_CLOCK = r"(?:[T,\s]+(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:\.\d+)?)?"
_CLOCK += r"\s*(?P<half>[ap]\.?m\.?)?\s*(?P<zone>Z|[+-]\d{2}:?\d{2})?)?"
_YEAR_FIRST = re.compile(rf"(?P<y>\d{{4}})([-/.])(?P<m>\d{{1,2}})\2(?P<d>\d{{1,2}}){_CLOCK}", re.I)
_DOTTED = re.compile(rf"(?P<d>\d{{1,2}})\.\s?(?P<m>\d{{1,2}})\.\s?(?P<y>\d{{4}}){_CLOCK}", re.I)
_EITHER = re.compile(rf"(?P<a>\d{{1,2}})([-/])(?P<b>\d{{1,2}})\2(?P<y>\d{{4}}){_CLOCK}", re.I)
_DAY_WORD = re.compile(
    rf"(?P<d>\d{{1,2}})(?:st|nd|rd|th|\.)?[\s-]+(?P<word>[a-z]{{3,9}})\.?,?[\s-]+(?P<y>\d{{4}}){_CLOCK}",
    re.I,
)
_WORD_DAY = re.compile(
    rf"(?P<word>[a-z]{{3,9}})\.?\s+(?P<d>\d{{1,2}})(?:st|nd|rd|th)?,?\s+(?P<y>\d{{4}}){_CLOCK}",
    re.I,
)


class DateOrder(StrEnum):
    """What the first number of a date such as 03/04/2026 is."""

    DAY_FIRST = "dmy"
    MONTH_FIRST = "mdy"
    ASK = "ask"


class UnreadableDateError(ValueError):
    """A text is no date; the message says why."""


def find_order(texts: Iterable[str]) -> DateOrder | None:
    """Return what the dates of a column begin with; None where none of them has two meanings.

    ASK where no value decides, or where some say one thing and some the other.
    """
    has_day_first = has_month_first = is_open = False
    for text in texts:
        match = _EITHER.fullmatch(text.strip())
        if match:
            has_day_first |= int(match["a"]) > 12 >= int(match["b"])
            has_month_first |= int(match["b"]) > 12 >= int(match["a"])
            is_open |= match["a"] != match["b"]
    if has_day_first != has_month_first:
        return DateOrder.DAY_FIRST if has_day_first else DateOrder.MONTH_FIRST
    return DateOrder.ASK if is_open else None


def looks_like_date(text: str) -> bool:
    """Return whether a text has the shape of a date, whatever its order."""
    shapes = (_YEAR_FIRST, _DOTTED, _EITHER, _DAY_WORD, _WORD_DAY)
    return any(shape.fullmatch(text.strip()) for shape in shapes)


def read_moment(text: str, *, order: DateOrder | None) -> datetime.datetime:
    """Return the moment a text names, aware; without an offset it is the desk's own time.

    A day without a time is noon. Raises UnreadableDateError.
    """
    text = text.strip()
    match, (year, month, day) = _split(text, order)
    try:
        date = datetime.date(year, month, day)
        clock = _clock(match)
    except ValueError:
        raise UnreadableDateError(f"“{text[:40]}” is a day or time that does not exist.") from None
    zone = _zone(match["zone"]) or timezone.get_default_timezone()
    moment = datetime.datetime.combine(date, clock, tzinfo=zone)
    if moment.year < 1990:
        raise UnreadableDateError(f"“{text[:40]}” is before 1990; please check the year.")
    return moment


def _split(text: str, order: DateOrder | None) -> tuple[re.Match[str], tuple[int, int, int]]:
    """Return the match of a date and its year, month and day."""
    for shape in (_YEAR_FIRST, _DOTTED):
        if match := shape.fullmatch(text):
            return match, (int(match["y"]), int(match["m"]), int(match["d"]))
    for shape in (_DAY_WORD, _WORD_DAY):
        match = shape.fullmatch(text)
        if match and match["word"][:3].lower() in MONTHS:
            month = MONTHS.index(match["word"][:3].lower()) + 1
            return match, (int(match["y"]), month, int(match["d"]))
    if match := _EITHER.fullmatch(text):
        first, second = int(match["a"]), int(match["b"])
        if order == DateOrder.DAY_FIRST:
            return match, (int(match["y"]), second, first)
        if order == DateOrder.MONTH_FIRST or first == second:
            return match, (int(match["y"]), first, second)
        raise UnreadableDateError(f"“{text}” may begin with the day or the month; please choose.")
    raise UnreadableDateError(
        f"“{text[:40]}” is no date the desk reads; please write it like 2026-11-25."
    )


def _clock(match: re.Match[str]) -> datetime.time:
    """Return the time of day of a match; raises ValueError."""
    if match["hour"] is None:
        return NOON
    hour = int(match["hour"])
    if match["half"]:
        if not 1 <= hour <= 12:
            raise ValueError
        hour = hour % 12 + (12 if match["half"].lower().startswith("p") else 0)
    return datetime.time(hour, int(match["minute"]), int(match["second"] or 0))


def _zone(offset: str | None) -> datetime.timezone | None:
    """Return the zone an offset names, None for none."""
    if not offset:
        return None
    if offset.upper() == "Z":
        return datetime.UTC
    digits = offset[1:].replace(":", "")
    minutes = int(digits[:2]) * 60 + int(digits[2:])
    return datetime.timezone(datetime.timedelta(minutes=-minutes if offset[0] == "-" else minutes))
