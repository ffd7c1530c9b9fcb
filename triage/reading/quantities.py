"""Numbers with units as people type them: ".4mm", "0,6 mm", "210-220c", "half an hour"."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from triage.reading.tokens import Document

Dimension = Literal["length", "temperature", "speed", "time", "percent", "other", "none"]

UNIT_WORDS: Final[Mapping[str, tuple[Dimension, float]]] = {
    "mm": ("length", 1.0),
    "mms": ("length", 1.0),
    "millimetre": ("length", 1.0),
    "millimetres": ("length", 1.0),
    "millimeter": ("length", 1.0),
    "millimeters": ("length", 1.0),
    "mil": ("length", 1.0),
    "cm": ("length", 10.0),
    "cms": ("length", 10.0),
    "centimetre": ("length", 10.0),
    "centimetres": ("length", 10.0),
    "centimeter": ("length", 10.0),
    "centimeters": ("length", 10.0),
    "inch": ("length", 25.4),
    "inches": ("length", 25.4),
    "thou": ("length", 0.0254),
    "thous": ("length", 0.0254),
    "micron": ("length", 0.001),
    "microns": ("length", 0.001),
    "um": ("length", 0.001),
    "μm": ("length", 0.001),
    "c": ("temperature", 1.0),
    "celsius": ("temperature", 1.0),
    "centigrade": ("temperature", 1.0),
    "f": ("temperature", 5 / 9),
    "fahrenheit": ("temperature", 5 / 9),
    "h": ("time", 1.0),
    "hr": ("time", 1.0),
    "hrs": ("time", 1.0),
    "hour": ("time", 1.0),
    "hours": ("time", 1.0),
    "s": ("time", 1 / 3600),
    "sec": ("time", 1 / 3600),
    "secs": ("time", 1 / 3600),
    "second": ("time", 1 / 3600),
    "seconds": ("time", 1 / 3600),
    "min": ("time", 1 / 60),
    "mins": ("time", 1 / 60),
    "minute": ("time", 1 / 60),
    "minutes": ("time", 1 / 60),
    "%": ("percent", 1.0),
    "percent": ("percent", 1.0),
    "pct": ("percent", 1.0),
}
"""Units to dimension and factor to mm, °C, h and %."""

DEGREE_WORDS: Final = frozenset({"°", "deg", "degs", "degree", "degrees"})

NUMBER_WORDS: Final[Mapping[str, float]] = {
    "half": 0.5,
    "a": 1.0,
    "an": 1.0,
    "one": 1.0,
    "two": 2.0,
    "three": 3.0,
    "four": 4.0,
    "five": 5.0,
    "six": 6.0,
    "seven": 7.0,
    "eight": 8.0,
    "nine": 9.0,
    "ten": 10.0,
    "twelve": 12.0,
    "fifteen": 15.0,
    "twenty": 20.0,
    "thirty": 30.0,
    "forty": 40.0,
    "fifty": 50.0,
    "couple": 2.0,
}

_LOOSE: Final = frozenset({"a", "an", "of"})
_THOUSANDS: Final = re.compile(r"[1-9]\d{0,2}(?:,\d{3})+")
_DECIMAL: Final = re.compile(r"\d*[.,]?\d+")
_MOST_DIGITS: Final = 12
FAHRENHEIT_ZERO: Final = 32.0


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number or range with its unit, in mm, °C, mm/s, h, % or bare.

    Parameters
    ----------
    value : float
        The number, or the middle of the range.
    low, high : float
        Ends of the range; both equal `value` for a single number.
    dimension : {"length", "temperature", "speed", "time", "percent", "other", "none"}
        What the unit measures; "none" for a bare number, "other" for areas, volumes, flows and
        accelerations, which no setting here uses.
    first, last : int
        Indices of the first and last word, unit included.
    has_scale : bool
        Whether a temperature says Celsius or Fahrenheit rather than just degrees.
    """

    value: float
    low: float
    high: float
    dimension: Dimension
    first: int
    last: int
    has_scale: bool = False


def parse_number(word: str) -> float | None:
    """Return the value of digits with a decimal point or comma, or None if it is no number."""
    if len(word) > _MOST_DIGITS:
        return None
    if _THOUSANDS.fullmatch(word):
        return float(word.replace(",", ""))
    if _DECIMAL.fullmatch(word):
        return float(word.replace(",", "."))
    return None


def read_quantities(document: Document) -> tuple[Quantity, ...]:
    """Return every quantity in the order of the text; none overlaps another."""
    found: list[Quantity] = []
    at = 0
    while at < len(document.words):
        quantity = _read_at(document, at)
        if quantity is None:
            at += 1
        else:
            found.append(quantity)
            at = quantity.last + 1
    return tuple(found)


def _read_at(document: Document, at: int) -> Quantity | None:
    word = document.words[at]
    if word in NUMBER_WORDS:
        return _worded(document, at)
    low = parse_number(word) if word[0].isdigit() else None
    if low is None:
        return None
    last, high = _range_end(document, at, low)
    if last == at:
        last, low = _fraction(document, at, low)
        high = low
    return _with_unit(document, at, last, low, high)


def _range_end(document: Document, at: int, low: float) -> tuple[int, float]:
    """Return the last word and upper end of a range that begins at `at`."""
    words, after = document.words, document.after
    place = _skip_unit(document, at)
    if place + 1 < len(words) and after[place].strip() == "-":
        other = place + 1
    elif place + 2 < len(words) and _says_to(document, at, place):
        other = place + 2
    else:
        return at, low
    high = parse_number(words[other])
    # "30-3" is no range, and neither is "0.4 - 210".
    if high is None or not low < high <= 20 * max(low, 0.05):
        return at, low
    return other, high


def _says_to(document: Document, at: int, place: int) -> bool:
    joint = document.words[place + 1]
    if document.after[place].strip() or document.after[place + 1].strip():
        return False
    return joint == "to" or (joint == "and" and at > 0 and document.words[at - 1] == "between")


def _skip_unit(document: Document, at: int) -> int:
    """Return the last word of "210", "210c" or "210 °c" in "210c to 220c"."""
    words = document.words
    place = at
    while place + 1 < len(words) and place - at < 2 and not document.after[place].strip():
        if words[place + 1] not in DEGREE_WORDS and words[place + 1] not in UNIT_WORDS:
            break
        place += 1
    return place


def _fraction(document: Document, at: int, value: float) -> tuple[int, float]:
    """Return the last word and value of "1/2" and "1 1/2", else `at` and the value itself."""
    words, after = document.words, document.after
    following = words[at + 1 : at + 3]
    halved = after[at].strip() == "/" and following[:1] in (["2"], ["4"], ["8"])
    if halved and value < float(following[0]):
        return at + 1, value / float(following[0])
    if len(following) == 2 and after[at] == " " and after[at + 1] == "/":
        top, bottom = parse_number(following[0]), parse_number(following[1])
        if top is not None and bottom in {2.0, 4.0, 8.0} and top < bottom:
            return at + 2, value + top / bottom
    return at, value


def _worded(document: Document, at: int) -> Quantity | None:
    """Return "half an hour", "two inches", "a couple of hours", "an hour and a half"."""
    words = document.words
    value = NUMBER_WORDS[words[at]]
    place = at + 1
    if words[at] in _LOOSE and place < len(words) and words[place] in {"half", "couple"}:
        value = NUMBER_WORDS[words[place]]
        place += 1
    while place < len(words) and words[place] in _LOOSE and place - at < 4:
        place += 1
    if place >= len(words) or words[place] not in UNIT_WORDS or len(words[place]) < 3:
        return None
    dimension, factor = UNIT_WORDS[words[place]]
    if dimension not in {"length", "time"}:
        return None
    last, extra = _and_a_half(words, place)
    value = (value + extra) * factor
    return Quantity(value, value, value, dimension, at, last)


def _and_a_half(words: Sequence[str], unit: int) -> tuple[int, float]:
    if tuple(words[unit + 1 : unit + 4]) == ("and", "a", "half"):
        return unit + 3, 0.5
    return unit, 0.0


def _with_unit(document: Document, first: int, last: int, low: float, high: float) -> Quantity:
    words, after = document.words, document.after
    unit = last + 1
    if unit >= len(words) or after[last].strip(" -"):
        if after[last].startswith(('"', "''")) and _is_open_quote(document, first):
            return _quantity("length", 25.4, first, last, low, high)
        return _quantity("none", 1.0, first, last, low, high)
    if words[unit] in DEGREE_WORDS:
        return _degrees(document, first, unit, low, high)
    compound = _compound(document, unit)
    if compound is not None:
        dimension, factor, place = compound
        return _quantity(dimension, factor, first, place, low, high)
    if words[unit] == "in" and after[last] == "":  # "4in", not "4 in the morning"
        return _quantity("length", 25.4, first, unit, low, high)
    if words[unit] not in UNIT_WORDS:
        return _quantity("none", 1.0, first, last, low, high)
    dimension, factor = UNIT_WORDS[words[unit]]
    if dimension == "temperature":
        if words[unit] in {"f", "fahrenheit"}:
            low, high = low - FAHRENHEIT_ZERO, high - FAHRENHEIT_ZERO
        return _quantity(dimension, factor, first, unit, low, high, has_scale=True)
    if dimension == "time":
        unit, extra = _minutes_after(document, unit, factor)
        return _quantity(dimension, factor, first, unit, low + extra, high + extra)
    return _quantity(dimension, factor, first, unit, low, high)


def _is_open_quote(document: Document, first: int) -> bool:
    """Whether a quotation mark behind the number means inches, not the end of a quotation."""
    return first == 0 or '"' not in document.after[first - 1]


def _degrees(document: Document, first: int, unit: int, low: float, high: float) -> Quantity:
    words = document.words
    scale = words[unit + 1] if unit + 1 < len(words) and not document.after[unit].strip() else ""
    if scale in {"f", "fahrenheit"}:
        low, high = low - FAHRENHEIT_ZERO, high - FAHRENHEIT_ZERO
        return _quantity("temperature", 5 / 9, first, unit + 1, low, high, has_scale=True)
    if scale in {"c", "celsius", "centigrade"}:
        return _quantity("temperature", 1.0, first, unit + 1, low, high, has_scale=True)
    return _quantity("temperature", 1.0, first, unit, low, high)


def _compound(document: Document, unit: int) -> tuple[Dimension, float, int] | None:
    """Return dimension, factor and last word of "mm/s", "mm per min", "mm³/s", "mm/s²"."""
    words, after = document.words, document.after
    # "in" is a unit only where a time follows: "3 in/s".
    length = ("length", 25.4) if words[unit] == "in" else UNIT_WORDS.get(words[unit])
    if words[unit] == "mmps":
        return "speed", 1.0, unit
    if length is None or length[0] != "length":
        return None
    if words[unit + 1 : unit + 2] in (["2"], ["3"]) and not after[unit].strip("^"):
        return "other", 1.0, min(unit + 2, len(words) - 1) if "/" in after[unit + 1] else unit + 1
    per = unit + 1 if after[unit].strip() == "/" else unit + 2
    if per >= len(words) or (per == unit + 2 and words[unit + 1] not in {"per", "a"}):
        return None
    if words[per] in {"s", "sec", "secs", "second"} and words[unit : per + 1] != [
        "in",
        "a",
        "second",
    ]:
        # A square makes it an acceleration, which no setting here uses.
        squared = words[per + 1 : per + 2] == ["2"] and not after[per].strip("^")
        return ("other", 1.0, per + 1) if squared else ("speed", length[1], per)
    if words[per] in {"min", "minute", "m"}:
        return "speed", length[1] / 60.0, per
    return None


def _minutes_after(document: Document, unit: int, factor: float) -> tuple[int, float]:
    """Return the last word of "1h 30m" and the minutes in hours."""
    words = document.words
    if factor != 1.0:  # only hours are followed by minutes
        return unit, 0.0
    rest = words[unit + 1 : unit + 3]
    if tuple(words[unit + 1 : unit + 4]) == ("and", "a", "half"):
        return unit + 3, 0.5
    if rest and rest[0].isdigit() and not document.after[unit].strip() and len(rest[0]) <= 2:
        if len(rest) == 2 and rest[1] in {"m", "min", "mins", "minutes"}:
            return unit + 2, float(rest[0]) / 60.0
        if document.ends[unit] == document.starts[unit + 1]:  # "1h30"
            return unit + 1, float(rest[0]) / 60.0
    return unit, 0.0


def _quantity(
    dimension: Dimension,
    factor: float,
    first: int,
    last: int,
    low: float,
    high: float,
    *,
    has_scale: bool = False,
) -> Quantity:
    low, high = round(low * factor, 9), round(high * factor, 9)
    middle = low if low == high else round((low + high) / 2, 9)
    return Quantity(middle, low, high, dimension, first, last, has_scale)
