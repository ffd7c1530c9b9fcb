"""The notices’ only way to the engine: shares with their intervals."""

from dataclasses import dataclass

from triage.workings.proportions import wilson_interval


@dataclass(frozen=True)
class Ends:
    """The ends of the 95 % interval of a share, 0 to 1."""

    low: float
    high: float


def interval_of(hits: int, of: int) -> Ends:
    """Return Wilson's 95 % interval of a share; raises OutOfRangeError for none at all.

    Source: [newcombe1998], method 3, as the engine works it out.
    """
    interval = wilson_interval(hits, of)
    return Ends(interval.low, interval.high)
