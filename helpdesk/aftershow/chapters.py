"""Chapters of a recording, and the three ways they are handed on.

A list for a description wants whole seconds, the first at 00:00, at least three, each of ten
seconds or more; that is common practice of places that show recordings, no published standard.
"""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from helpdesk.aftershow.engine import whole_thousandths, write_chapter_track
from helpdesk.episodes.models import SegmentKind
from helpdesk.episodes.real_times import ShownPart

LEAST_S = 10  # of a chapter in a list [common practice, no source]
LEAST_COUNT = 3  # of chapters in a list [common practice, no source]
JSON_VERSION = "1.2.0"
JSON_TYPE = "application/json+chapters"
BEFORE = "Before the show"
_SPACE = re.compile(r"\s+")


@dataclass(frozen=True)
class Chapter:
    """A stretch of the recording with its title; `is_silent` keeps it out of a list."""

    start_s: float
    end_s: float
    title: str
    url: str = ""
    is_silent: bool = False

    @property
    def lasts_s(self) -> float:
        """Return its length in seconds."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class ChapterList:
    """Chapters fit for a description, what was changed to make them fit, and what is amiss."""

    chapters: Sequence[Chapter]
    merged: Sequence[str]
    trouble: str

    @property
    def lines(self) -> list[str]:
        """Return the chapters as lines, each a stamp and a title."""
        is_long = any(chapter.start_s >= 3600 for chapter in self.chapters)
        return [f"{stamp(c.start_s, is_long=is_long)} {c.title}" for c in self.chapters]


def make_chapters(parts: Sequence[ShownPart], urls: dict[int, str]) -> list[Chapter]:
    """Return a chapter for each part that stands in the recording, ascending and without gaps.

    `urls` gives a public page by a case's number. What the recording holds before the show is a
    chapter of its own, kept out of tables of contents.
    """
    inside = [part for part in parts if part.until_s > 0]
    chapters = [
        Chapter(
            start_s=part.at_s,
            end_s=part.until_s,
            title=one_line(part.segment.slug),
            url=urls.get(part.segment.case_id or 0, ""),
        )
        for part in inside
    ]
    # Two parts noted at the same moment are one chapter: no player can open both.
    apart = [c for n, c in enumerate(chapters) if n + 1 == len(chapters) or c.lasts_s >= 0.001]
    if apart and apart[0].start_s > 0:
        apart.insert(0, Chapter(0.0, apart[0].start_s, BEFORE, is_silent=True))
    return apart


def fit_list(chapters: Sequence[Chapter]) -> ChapterList:
    """Return the chapters as a description may list them, short ones joined to a neighbour.

    A stamp is the whole second in which the chapter has begun, so that nobody who presses it hears
    the end of the one before.
    """
    fitted: list[Chapter] = []
    merged: list[str] = []
    whole = [replace(c, start_s=_whole(c.start_s), end_s=_whole(c.end_s)) for c in chapters]
    for chapter in whole:
        if fitted and fitted[-1].lasts_s < LEAST_S:
            first = fitted.pop()
            merged.append(f"“{first.title}” is part of “{_keep(first, chapter)}”.")
            chapter = replace(chapter, start_s=first.start_s, title=_keep(first, chapter))
        fitted.append(chapter)
    while len(fitted) > 1 and fitted[-1].lasts_s < LEAST_S:
        last = fitted.pop()
        merged.append(f"“{last.title}” is part of “{fitted[-1].title}”.")
        fitted[-1] = replace(fitted[-1], end_s=last.end_s)
    if fitted:
        fitted[0] = replace(fitted[0], start_s=0.0)
    trouble = ""
    if len(fitted) < LEAST_COUNT:
        trouble = (
            f"A list needs {LEAST_COUNT} chapters of {LEAST_S} seconds or more; "
            f"there {'is' if len(fitted) == 1 else 'are'} {len(fitted)}."
        )
    return ChapterList(fitted, tuple(merged), trouble)


def write_list(chapters: Sequence[Chapter]) -> str:
    """Return the plain list for a description."""
    return "".join(f"{line}\n" for line in fit_list(chapters).lines)


def write_track(chapters: Sequence[Chapter]) -> str:
    """Return the chapters as WebVTT."""
    return write_chapter_track((c.start_s, c.end_s, c.title) for c in chapters)


def write_json(chapters: Sequence[Chapter], *, title: str = "") -> str:
    """Return the chapters as the JSON chapters of the podcast namespace (version 1.2)."""
    found: dict[str, object] = {"version": JSON_VERSION}
    if title:
        found["title"] = title
    found["chapters"] = [_as_json(chapter) for chapter in chapters]
    return json.dumps(found, ensure_ascii=False, indent=2) + "\n"


def stamp(second: float, *, is_long: bool = False) -> str:
    """Return a whole second as 04:41, or as 1:04:41 in a recording of more than an hour."""
    minutes, seconds = divmod(int(second), 60)
    hours, minutes = divmod(minutes, 60)
    if is_long:
        return f"{hours}:{minutes:02}:{seconds:02}"
    return f"{minutes:02}:{seconds:02}"


def one_line(title: str) -> str:
    """Return a title in one line; the arrow that parts times in WebVTT may stand in no title."""
    return _SPACE.sub(" ", title.replace("-->", "→")).strip() or "Untitled part"


def is_case(part: ShownPart) -> bool:
    """Return True for a part that shows a print."""
    return part.segment.kind == SegmentKind.CASE and part.segment.case is not None


def _as_json(chapter: Chapter) -> dict[str, object]:
    """Return a chapter with what is known of it."""
    found: dict[str, object] = {
        "startTime": float(whole_thousandths(chapter.start_s)),
        "title": chapter.title,
        "endTime": float(whole_thousandths(chapter.end_s)),
    }
    if chapter.url:
        found["url"] = chapter.url
    if chapter.is_silent:
        found["toc"] = False
    return found


def _whole(time_s: float) -> float:
    """Return the first whole second at or after a time."""
    return float(-int(-whole_thousandths(time_s) // 1))


def _keep(first: Chapter, second: Chapter) -> str:
    """Return the title two chapters go by: that of the one people look for."""
    return second.title if first.is_silent or first.lasts_s <= second.lasts_s else first.title
