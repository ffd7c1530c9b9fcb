"""When each part of a show was really on, in seconds of the show and of its recording.

Real starts count from the moment the show went on air. A part without one is reckoned from the
part before it and its planned length; a show of which no moment was noted keeps its plan.
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from helpdesk.episodes.models import Segment
from helpdesk.episodes.selectors import RunSheet, SheetRow


class Basis(StrEnum):
    """What a start rests on."""

    NOTED = "noted on the evening"
    RECKONED = "reckoned from the part before"
    PLANNED = "planned"


@dataclass(frozen=True)
class ShownPart:
    """A part of a show as it was on: seconds since the show began, and what they rest on."""

    segment: Segment
    start_s: float
    end_s: float
    planned_s: int
    words: int
    basis: Basis
    offset_s: int

    @property
    def at_s(self) -> float:
        """Return the second of the recording it starts at; 0 when it began before the recording."""
        return max(0.0, self.start_s + self.offset_s)

    @property
    def until_s(self) -> float:
        """Return the second of the recording it ends at."""
        return max(0.0, self.end_s + self.offset_s)

    @property
    def lasted_s(self) -> float:
        """Return how long it took."""
        return self.end_s - self.start_s

    @property
    def is_noted(self) -> bool:
        """Return True when somebody noted its start."""
        return self.basis == Basis.NOTED


def list_shown_parts(sheet: RunSheet) -> list[ShownPart]:
    """Return the parts that were on, in the order of their starts."""
    rows = [row for row in sheet.rows if not row.segment.was_left_out]
    began = sheet.episode.on_air_at or sheet.episode.starts_at
    noted = [_noted_s(row.segment, sheet.episode.on_air_at) for row in rows]
    is_noted_at_all = sheet.episode.on_air_at is not None
    parts, clock_s = [], 0.0
    for place, (row, real_s) in enumerate(zip(rows, noted, strict=True)):
        start_s = real_s if real_s is not None else _reckon(row, clock_s, began, noted[place:])
        clock_s = start_s + row.seconds
        basis = Basis.RECKONED if is_noted_at_all else Basis.PLANNED
        parts.append(
            ShownPart(
                segment=row.segment,
                start_s=start_s,
                end_s=clock_s,
                planned_s=row.seconds,
                words=row.words,
                basis=Basis.NOTED if real_s is not None else basis,
                offset_s=sheet.episode.recording_offset_s,
            )
        )
    return _end_where_the_next_starts(sorted(parts, key=lambda part: part.start_s), sheet)


def _noted_s(segment: Segment, began: datetime.datetime | None) -> float | None:
    """Return the noted start in seconds of the show, None when nothing was noted."""
    if began is None or segment.started_at is None:
        return None
    return max(0.0, (segment.started_at - began).total_seconds())


def _reckon(
    row: SheetRow, clock_s: float, began: datetime.datetime, following: Sequence[float | None]
) -> float:
    """Return where a part starts whose start nobody noted: never behind a noted one after it."""
    if row.segment.hit_at:
        clock_s = max(clock_s, (row.segment.hit_at - began).total_seconds())
    known = [start_s for start_s in following if start_s is not None]
    return min(clock_s, *known) if known else clock_s


def _end_where_the_next_starts(parts: Sequence[ShownPart], sheet: RunSheet) -> list[ShownPart]:
    """Return the parts, each ending with the start of the next, the last with the show."""
    if not parts:
        return []
    ends = [part.start_s for part in parts[1:]]
    off_air, on_air = sheet.episode.off_air_at, sheet.episode.on_air_at
    last = parts[-1]
    end_s = last.end_s
    if off_air and on_air and (off_air - on_air).total_seconds() > last.start_s:
        end_s = (off_air - on_air).total_seconds()
    return [
        replace(part, end_s=until_s) for part, until_s in zip(parts, [*ends, end_s], strict=True)
    ]
