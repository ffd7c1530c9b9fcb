"""How much a sentence is worth: the likelihood pair of each way of saying something.

A pair is (P(it is written | the finding is present), P(it is written | the finding is absent)).
Only the ratio matters to the engine; the pairs are written as probabilities so that they can be
judged. All are estimates from memory, to be replaced by counts of confirmed cases: of ten people
who state a symptom plainly about nine have it; loose naming of symptoms makes up the rest.
"""

from enum import IntEnum
from typing import Final


class Weight(IntEnum):
    """Ways of saying something, weakest first."""

    HEARSAY = 1
    HEDGED = 2
    RESOLVED = 3
    PLAIN = 4


PLAIN_PAIR: Final = (0.90, 0.05)
"""A plain statement: 18 to 1, about 12.6 decibans. People call things by each other's names, so
more would let one loose word outweigh a look at the print."""

DANGER_PAIR: Final = (0.90, 0.005)
"""A danger told plainly: 180 to 1, about 22.6 decibans. Its phrases are narrow, nobody writes of a
brown plug for nothing, and believing it wrongly costs a look while missing it may cost a house."""

HEDGED_PAIR: Final = (0.60, 0.20)
"""A doubted, asked, conditional or past statement: 3 to 1, as who hedges is right less often."""

HEARSAY_PAIR: Final = (0.50, 0.30)
"""Somebody else's words passed on: 5 to 3, close to nothing."""

DENIED_PAIR: Final = (0.05, 0.90)
"""A plain denial, the mirror image of a plain statement: who bothers to deny has looked."""

DOUBTED_DENIAL_PAIR: Final = (0.20, 0.60)
"""A hedged denial, the mirror image of a hedged statement."""

RESOLVED_PAIR: Final = (0.25, 0.50)
"""Said to be over: 1 to 2, as cured symptoms come back."""

_PRESENT: Final = {
    Weight.PLAIN: PLAIN_PAIR,
    Weight.HEDGED: HEDGED_PAIR,
    Weight.HEARSAY: HEARSAY_PAIR,
    Weight.RESOLVED: HEDGED_PAIR,
}
_ABSENT: Final = {
    Weight.PLAIN: DENIED_PAIR,
    Weight.HEDGED: DOUBTED_DENIAL_PAIR,
    Weight.HEARSAY: (HEARSAY_PAIR[1], HEARSAY_PAIR[0]),
    Weight.RESOLVED: RESOLVED_PAIR,
}


def likelihood_pair(
    weight: Weight, *, present: bool, is_danger: bool = False
) -> tuple[float, float]:
    """Return P(what is written | finding present) and P(what is written | finding absent)."""
    if is_danger and present and weight is Weight.PLAIN:
        return DANGER_PAIR
    return (_PRESENT if present else _ABSENT)[weight]
