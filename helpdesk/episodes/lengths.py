"""How long a part of a show takes, and what that is made of.

What is spoken are the words of the script; without a script, the words of the talking points times
POINT_FACTOR, since a point is a cue and not a speech. The words of cautions come on top: they are
said whatever else is. They take their time at the presenter's rate, rounded up to a whole second.
Pictures stand for their seconds without words, and the fixed part is added as it is.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from helpdesk.episodes.models import Segment
from helpdesk.episodes.rates import Rate, rate_key
from helpdesk.episodes.timing import count_words, planned_seconds

POINT_FACTOR = 2.0  # words spoken for each word of a talking point [judgement: desk, 2026-11]
SCRIPT, POINTS, NOTHING = "script", "points", ""


@dataclass(frozen=True)
class PartLength:
    """A part's planned length in whole seconds, and where it comes from.

    `words` are all that are spoken, `said_words` those of script or points, `caution_words`
    those of cautions; `basis` says which of script and points was counted.
    """

    seconds: int
    basis: str
    said_words: int
    caution_words: int
    pictures_s: int
    fixed_s: int
    rate: Rate

    @property
    def words(self) -> int:
        """Return all the words that are spoken."""
        return self.said_words + self.caution_words


def measure_part(
    segment: Segment, *, rate: Rate, cautions: Sequence[str] = (), pictures_s: int = 0
) -> PartLength:
    """Return how long a part takes at a rate."""
    basis, said = count_spoken(segment.script, segment.talking_points)
    cautioned = sum(count_words(text) for text in cautions)
    return PartLength(
        seconds=planned_seconds(
            said + cautioned, rate.words_per_minute, segment.fixed_s + pictures_s
        ),
        basis=basis,
        said_words=said,
        caution_words=cautioned,
        pictures_s=pictures_s,
        fixed_s=segment.fixed_s,
        rate=rate,
    )


def count_spoken(script: str, talking_points: str) -> tuple[str, int]:
    """Return what is spoken from, script or points, and how many words that comes to."""
    words = count_words(script)
    if words:
        return SCRIPT, words
    points = count_words(talking_points)
    return (POINTS, math.ceil(points * POINT_FACTOR)) if points else (NOTHING, 0)


def rate_of_part(segment: Segment, rates: Mapping[str, Rate], unmeasured_wpm: int) -> Rate:
    """Return the rate of whoever speaks a part: measured, or else the episode's."""
    return rates.get(rate_key(segment.presenter), Rate(unmeasured_wpm))
