"""How long something takes when for some the end is not known yet: the product-limit estimate."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from triage.errors import OutOfRangeError

ROUNDING = 1e-12  # products of exact shares may miss a bound by this much


@dataclass(frozen=True, slots=True)
class Step:
    """Where the share of those still waiting falls: it is `waiting` from `time` on."""

    time: float
    at_risk: int
    ended: int
    waiting: float


def product_limit(times: Sequence[float], has_ended: Sequence[bool]) -> tuple[Step, ...]:
    """Return the Kaplan-Meier estimate of the share still waiting.

    Parameters
    ----------
    times : sequence of float, 0 or more, any unit
        How long each was seen to wait.
    has_ended : sequence of bool, as many
        True where the wait ended then; False where it was at least so long.

    Returns
    -------
    tuple of Step
        One step for each time at which a wait ended, in order; before the first all wait.

    Raises
    ------
    OutOfRangeError
        If the two differ in length, or a time is negative or no number.

    Notes
    -----
    Source: [kaplanmeier1958], equation 2b. Who left at the very time of an end was still at risk.
    """
    if len(times) != len(has_ended):
        msg = f"{len(times)} times and {len(has_ended)} ends: each wait needs both"
        raise OutOfRangeError(msg)
    for time in times:
        if not 0 <= time < math.inf:  # also refuses NaN
            msg = f"a wait of {time} is none; it needs a number from 0 on"
            raise OutOfRangeError(msg)
    steps = []
    at_risk, waiting = len(times), 1.0
    pairs = sorted(zip(times, has_ended, strict=True))
    for time, group in groupby(pairs, key=lambda pair: pair[0]):
        ends = [has for _, has in group]
        ended = sum(ends)
        if ended:
            waiting *= 1 - ended / at_risk
            steps.append(Step(time, at_risk, ended, waiting))
        at_risk -= len(ends)
    return tuple(steps)


def time_until(steps: Sequence[Step], share: float) -> float | None:
    """Return the time by which a share has ended, or None while too few have.

    Parameters
    ----------
    steps : sequence of Step
    share : float, 0 to 1, both not included

    Returns
    -------
    float or None
        The first time at which no more than ``1 - share`` still wait. Where every end is known
        this is the nearest rank, definition 1 of [hyndmanfan1996].

    Raises
    ------
    OutOfRangeError
        If `share` is outside its range.
    """
    if not 0 < share < 1:
        msg = f"a share of {share} is not between 0 and 1"
        raise OutOfRangeError(msg)
    return next((step.time for step in steps if step.waiting <= 1 - share + ROUNDING), None)
