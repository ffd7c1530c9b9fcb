"""The arithmetic of a run sheet: spoken time, front time, back-time, over and under.

Terms are the broadcast trade's. Front time is when a part starts if everything before it runs to
plan. Back-time is the latest start that still lands on the next fixed time: a part that must start
at a given moment, or the hard end. Over (+) and under (−) is front time minus back-time.
"""

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass

SLOWEST_WPM, FASTEST_WPM = 150, 210  # outside this band listeners follow less well [rodero2012]


@dataclass(frozen=True)
class Part:
    """A part's planned length in whole seconds and the moment it must start, if any."""

    seconds: int
    hit_at: datetime.datetime | None = None


@dataclass(frozen=True)
class PartTime:
    """Where a part stands: front time, back-time and the seconds over (+) or under (−)."""

    front: datetime.datetime
    back: datetime.datetime
    over_s: int


@dataclass(frozen=True)
class SheetTime:
    """The times of all parts and of the hard end."""

    parts: Sequence[PartTime]
    total_s: int
    ends_at: datetime.datetime
    over_s: int


def spoken_seconds(words: int, words_per_minute: int) -> float:
    """Return how long it takes to speak a number of words, in seconds."""
    if words < 0 or words_per_minute <= 0:
        raise ValueError(f"{words} words at {words_per_minute} a minute cannot be spoken")
    return words * 60 / words_per_minute


def planned_seconds(words: int, words_per_minute: int, fixed_s: int) -> int:
    """Return a part's planned length: words rounded up to a whole second, plus the fixed part."""
    return math.ceil(spoken_seconds(words, words_per_minute)) + fixed_s


def count_words(script: str) -> int:
    """Return the words of a script as a presenter would speak them."""
    return sum(1 for word in script.split() if any(c.isalnum() for c in word))


def time_sheet(
    parts: Sequence[Part], *, starts_at: datetime.datetime, hard_end: datetime.datetime
) -> SheetTime:
    """Return front time, back-time and over/under of every part.

    A part with a hit time waits for it when the show is early; when the show is late it starts
    late, and the lateness shows as over.
    """
    fronts: list[datetime.datetime] = []
    clock = starts_at
    for part in parts:
        front = max(clock, part.hit_at) if part.hit_at else clock
        fronts.append(front)
        clock = front + datetime.timedelta(seconds=part.seconds)
    backs = _back_times(parts, hard_end)
    times = [
        PartTime(front=front, back=back, over_s=_seconds_between(back, front))
        for front, back in zip(fronts, backs, strict=True)
    ]
    return SheetTime(
        parts=times,
        total_s=sum(part.seconds for part in parts),
        ends_at=clock,
        over_s=_seconds_between(hard_end, clock),
    )


def over_before_hits(parts: Sequence[Part], sheet: SheetTime) -> list[tuple[int, int]]:
    """Return (index of the part with a hit time, seconds over or under when reaching it)."""
    reached = []
    for number, part in enumerate(parts):
        if part.hit_at is None or number == 0:
            continue
        before = sheet.parts[number - 1]
        arrives = before.front + datetime.timedelta(seconds=parts[number - 1].seconds)
        reached.append((number, _seconds_between(part.hit_at, arrives)))
    return reached


def _back_times(parts: Sequence[Part], hard_end: datetime.datetime) -> list[datetime.datetime]:
    """Return each part's latest start that still lands on the next fixed time."""
    backs = []
    clock = hard_end
    for part in reversed(parts):
        clock -= datetime.timedelta(seconds=part.seconds)
        backs.append(clock)
        if part.hit_at:  # parts before it must land on the hit time
            clock = part.hit_at
    return backs[::-1]


def _seconds_between(earlier: datetime.datetime, later: datetime.datetime) -> int:
    """Return whole seconds from one moment to another; negative when it is before."""
    return round((later - earlier).total_seconds())
