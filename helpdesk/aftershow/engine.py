"""The only way from what comes after a show to the engine: times and chapters as WebVTT."""

from collections.abc import Iterable

from triage.captions import Cue, format_timestamp, write_webvtt

THOUSANDTH_S = 0.001


def write_chapter_track(chapters: Iterable[tuple[float, float, str]]) -> str:
    """Return a WebVTT file of chapters, each given as start and end in seconds and a title.

    A chapter track is a WebVTT file whose cues follow each other (W3C WebVTT, "chapter cues"). A
    cue must last a thousandth at least.
    """
    return write_webvtt(
        Cue(start_s, max(end_s, start_s + THOUSANDTH_S), title)
        for start_s, end_s, title in chapters
    )


def whole_thousandths(time_s: float) -> float:
    """Return a time as the files write it: rounded to thousandths before it is taken apart."""
    hours, minutes, seconds = format_timestamp(time_s).split(":")
    return int(hours) * 3600 + int(minutes) * 60 + float(seconds)
