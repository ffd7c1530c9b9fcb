"""Cues to WebVTT."""

from collections.abc import Iterable

from triage.captions._model import Cue
from triage.captions._times import format_timestamp
from triage.errors import OutOfRangeError

_ESCAPES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;"})


def write_webvtt(cues: Iterable[Cue]) -> str:
    """Return a WebVTT file of some cues, in the order given.

    Words are escaped, empty lines inside them left out, as one would end the cue. Times are
    rounded to thousandths of a second.

    Parameters
    ----------
    cues : iterable of Cue
        Starts must not go back; each end lies at least a thousandth behind its start.

    Raises
    ------
    OutOfRangeError
        If a time is below 0 or not finite, an end is not behind its start, or a cue starts
        before the one in front of it.

    Notes
    -----
    Source: [webvtt], "WebVTT file body" and "WebVTT cue timings".
    """
    blocks = ["WEBVTT\n"]
    before = ""
    for cue in cues:
        start, end = format_timestamp(cue.start_s), format_timestamp(cue.end_s)
        if _key(end) <= _key(start):
            msg = f"a cue from {start} to {end} does not end after its start"
            raise OutOfRangeError(msg)
        if before and _key(start) < _key(before):
            msg = f"a cue that starts at {start} stands behind one that starts at {before}"
            raise OutOfRangeError(msg)
        before = start
        lines = [line.strip() for line in cue.text.translate(_ESCAPES).splitlines()]
        words = "\n".join(line for line in lines if line)
        voice = _voice(cue.speaker)
        blocks.append(f"{start} --> {end}\n{voice}{words}\n")
    return "\n".join(blocks)


def _key(timestamp: str) -> tuple[int, str]:
    """Return what puts written times in order: hours may have more than two digits."""
    return len(timestamp), timestamp


def _voice(speaker: str) -> str:
    name = " ".join(speaker.translate(_ESCAPES).split())
    return f"<v {name}>" if name else ""
