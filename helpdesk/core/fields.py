"""Form fields for what people write about prints: words with a limit, measures with units."""

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import islice
from typing import Any
from urllib.parse import urlsplit

from django import forms
from django.core.exceptions import ValidationError

CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
# U+066B is the Arabic decimal separator; U+2212 a true minus.
FIGURE = re.compile(
    r"(?:about|around|approx\.?|circa|ca\.?|c\.|~|≈)?\s*"
    r"(?P<figure>[+\-−]?\d{1,7}(?:[.,\u066b]\d{1,7})?)\s*(?P<unit>[^\d\s].*)?",
    re.IGNORECASE,
)
WEB_SCHEMES = ("http", "https")
LINK_CHARS = 500
NO_WEB_PAGE = "Give the address as it stands in the browser, beginning with https://."
Conversion = Callable[[float], float]


def _times(factor: float) -> Conversion:
    """Return the conversion that multiplies."""
    return lambda value: value * factor


def _same(value: float) -> float:
    return value


def _from_fahrenheit(value: float) -> float:
    return (value - 32) * 5 / 9


LENGTHS: Mapping[str, Conversion] = {
    "": _same,
    "mm": _same,
    "millimetre": _same,
    "millimetres": _same,
    "millimeter": _same,
    "millimeters": _same,
    "cm": _times(10),
    "um": _times(0.001),
    "μm": _times(0.001),
    "micron": _times(0.001),
    "microns": _times(0.001),
}
TEMPERATURES: Mapping[str, Conversion] = {
    "": _same,
    "c": _same,
    "°": _same,
    "°c": _same,
    "celsius": _same,
    "°celsius": _same,
    "deg": _same,
    "degc": _same,
    "degrees": _same,
    "degreesc": _same,
    "degreescelsius": _same,
    "f": _from_fahrenheit,
    "°f": _from_fahrenheit,
    "fahrenheit": _from_fahrenheit,
}
SPEEDS: Mapping[str, Conversion] = {
    "": _same,
    "mm/s": _same,
    "mm/sec": _same,
    "mms": _same,
    "mmpersecond": _same,
    "mm/min": _times(1 / 60),
}


@dataclass(frozen=True)
class Measure:
    """What a figure means: its range in the desk's unit and how to ask for it."""

    ask: str  # "Give the height in millimetres as a number, such as 43."
    check: str  # "Please check the height: we expect 0 to 2000 mm."
    low: float
    high: float
    units: Mapping[str, Conversion] = field(default_factory=lambda: LENGTHS)


def read_measure(text: str, measure: Measure) -> float:
    """Return a figure written with comma or point, with or without a unit.

    Raises ValidationError with a sentence for anything else.
    """
    # NFKC turns ℃ into °C and wide digits into plain ones.
    match = FIGURE.fullmatch(unicodedata.normalize("NFKC", text).strip())
    unit = re.sub(r"[\s.]+", "", (match["unit"] or "").lower()) if match else ""
    if match is None or unit not in measure.units:
        raise ValidationError(measure.ask, code="no_figure")
    figure = match["figure"].replace(",", ".").replace("\u066b", ".").replace("−", "-")
    value = measure.units[unit](float(figure))
    if not measure.low <= value <= measure.high:
        raise ValidationError(measure.check, code="out_of_range")
    return round(value, 4)


class MeasureField(forms.CharField):
    """A figure in the desk's unit, or None when left empty."""

    def __init__(self, measure: Measure, **kwargs: Any) -> None:
        """Keep what the figure means and ask phones for a keyboard with digits."""
        widget = forms.TextInput(
            attrs={"class": "short", "inputmode": "decimal", "autocomplete": "off"}
        )
        super().__init__(required=False, widget=widget, **kwargs)
        self.measure = measure

    def clean(self, value: Any) -> float | None:
        """Return the figure."""
        text = str(super().clean(value) or "")
        return read_measure(text, self.measure) if text else None


class WordsField(forms.CharField):
    """Text without control characters; more than the limit is refused, never cut off."""

    def __init__(self, *, limit: int, what: str, **kwargs: Any) -> None:
        """Keep the limit out of the control, where browsers would cut a pasted text short."""
        super().__init__(**kwargs)
        self.limit = limit
        self.what = what

    def to_python(self, value: Any) -> str:
        """Return the text in composed form with plain line ends."""
        text = super().to_python(value) or ""
        text = CONTROL.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))
        return unicodedata.normalize("NFC", text).strip()

    def validate(self, value: str) -> None:
        """Refuse a text over the limit."""
        super().validate(value)
        if len(value) > self.limit:
            raise ValidationError(
                f"Please shorten {self.what} to {self.limit:,} characters; "
                f"it has {len(value):,} now.",
                code="too_long",
            )


class WebLinkField(forms.URLField):
    """The address of a web page, "" when left empty."""

    def __init__(self, **kwargs: Any) -> None:
        """Ask phones for a keyboard for addresses."""
        super().__init__(
            required=False,
            assume_scheme="https",
            max_length=LINK_CHARS,
            widget=forms.TextInput(attrs={"inputmode": "url", "autocomplete": "off"}),
            error_messages={
                "invalid": NO_WEB_PAGE,
                "max_length": "Please give a shorter address, of 500 characters at most.",
            },
            **kwargs,
        )

    def clean(self, value: Any) -> str:
        """Return the address if it is one of a web page."""
        link = str(super().clean(value) or "")
        if link and urlsplit(link).scheme not in WEB_SCHEMES:
            raise ValidationError(NO_WEB_PAGE, code="invalid")
        return link


def line_field(label: str, what: str, limit: int, **kwargs: Any) -> WordsField:
    """Return an optional field of one line."""
    attrs = {"dir": "auto", "autocomplete": "off", **kwargs.pop("attrs", {})}
    return WordsField(
        label=label,
        what=what,
        limit=limit,
        required=False,
        widget=forms.TextInput(attrs=attrs),
        **kwargs,
    )


def text_field(label: str, what: str, limit: int, rows: int, **kwargs: Any) -> WordsField:
    """Return a field of several lines."""
    widget = forms.Textarea(attrs={"dir": "auto", "rows": rows, **kwargs.pop("attrs", {})})
    return WordsField(label=label, what=what, limit=limit, widget=widget, **kwargs)


def count_letters(text: str) -> int:
    """Return how many letters of any script a text has; pictures and signs do not count."""
    return sum(unicodedata.category(character).startswith("L") for character in text)


def has_letters(text: str, least: int) -> bool:
    """Return whether a text has so many letters of any script; stops counting there."""
    letters = (character for character in text if unicodedata.category(character)[0] == "L")
    return next(islice(letters, least - 1, None), None) is not None
