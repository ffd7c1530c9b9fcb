"""The weights in force: the producer's where set, else judgements; and the rewards they make."""

from collections.abc import Mapping

from helpdesk.choosing.models import Reason, Weight
from helpdesk.choosing.values import POINT, Reward

# Points a reason is worth at most [judgement: desk, 2026-11]; the producer changes them freely.
DEFAULTS: Mapping[str, int] = {
    Reason.INSTRUCTIVE: 40,
    Reason.FRESH: 15,
    Reason.PICTURES: 15,
    Reason.RESTED: 15,
    Reason.WAITING: 10,
    Reason.STORY: 20,
    Reason.MARKED: 10,
    Reason.FAMILY_FIRST: 12,
    Reason.FAMILY_SECOND: 4,
    Reason.PROCESS_FIRST: 8,
    Reason.PROCESS_SECOND: 2,
    Reason.MACHINE_FIRST: 5,
    Reason.MACHINE_SECOND: 2,
}
# Dimension of variety: reasons of its first and its second case.
DIMENSIONS: Mapping[str, tuple[str, str]] = {
    "family": (Reason.FAMILY_FIRST, Reason.FAMILY_SECOND),
    "process": (Reason.PROCESS_FIRST, Reason.PROCESS_SECOND),
    "machine": (Reason.MACHINE_FIRST, Reason.MACHINE_SECOND),
}


def get_weights() -> dict[str, int]:
    """Return the points of every reason."""
    return dict(DEFAULTS) | dict(Weight.objects.values_list("reason", "points"))


def rewards_of(weights: Mapping[str, int]) -> dict[str, Reward]:
    """Return what variety is worth, by dimension."""
    return {
        dimension: Reward(weights[first] * POINT, weights[second] * POINT)
        for dimension, (first, second) in DIMENSIONS.items()
    }
