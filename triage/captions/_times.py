"""Times as captions write them: strict after WebVTT, lenient for what people's files hold."""

import math
import re

from triage.errors import CaptionError, OutOfRangeError

_STRICT = re.compile(r"(?:([0-9]{2,}):)?([0-5][0-9]):([0-5][0-9])\.([0-9]{3})")
_LOOSE = re.compile(
    r"([-\u2212+]?)\s*(?:([0-9]{1,6})\s*:\s*)?([0-9]{1,6})\s*:\s*([0-9]{1,6})"
    r"(?:\s*[.,:;]\s*([0-9]{1,9}))?"
)
_SECONDS = re.compile(r"([-\u2212+]?)([0-9]{1,9})[.,]([0-9]{1,9})")


def read_timestamp(text: str) -> float:
    """Return the seconds of a WebVTT timestamp.

    Parameters
    ----------
    text : str
        ``[hours:]minutes:seconds.thousandths``; hours have two digits or more, minutes and
        seconds two of 00 to 59, thousandths three.

    Raises
    ------
    CaptionError
        If the text is anything else.

    Notes
    -----
    Source: [webvtt], "WebVTT timestamp" and "collect a WebVTT timestamp".
    """
    found = _STRICT.fullmatch(text)
    if found is None:
        msg = f"'{text}' is no WebVTT timestamp such as 00:10.700 or 01:00:10.700"
        raise CaptionError(msg)
    hours, minutes, seconds, thousandths = (int(digits or 0) for digits in found.groups())
    return _total(hours, minutes, seconds) + thousandths / 1000


def read_loose_time(text: str) -> float | None:
    """Return the seconds of a time in about any spelling, below 0 too; None when it is none.

    Read beyond the standard: a comma for the point (as SubRip has it), missing digits, no
    fraction, minutes or seconds of 60 and more, bare seconds, a sign.
    """
    found = _LOOSE.fullmatch(text.strip())
    if found is not None:
        sign, hours, minutes, seconds, digits = found.groups()
        total = _total(int(hours or 0), int(minutes), int(seconds))
    else:
        found = _SECONDS.fullmatch(text.strip())
        if found is None:
            return None
        sign, seconds, digits = found.groups()
        total = float(seconds)
    total = round(total + float(f"0.{digits or 0}"), 6)
    return -total if sign in ("-", "\u2212") else total


def format_timestamp(time_s: float) -> str:
    """Return a time as WebVTT writes it, with hours: 3599.9995 s is 01:00:00.000.

    Rounded to whole thousandths before it is taken apart, so that no part can become 60.

    Raises
    ------
    OutOfRangeError
        If the time is below 0 or not finite.
    """
    if not 0.0 <= time_s < math.inf:
        msg = f"a time of {time_s} s cannot be written; it must be 0 or more"
        raise OutOfRangeError(msg)
    # Half a thousandth goes up, though binary 3599.9995 lies a hair below it.
    total_ms = math.floor(time_s * 1000 + 0.5 + 1e-6)
    seconds, thousandths = divmod(total_ms, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{seconds:02d}.{thousandths:03d}"


def _total(hours: int, minutes: int, seconds: int) -> float:
    return float(hours * 3600 + minutes * 60 + seconds)
