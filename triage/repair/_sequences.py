"""Textbook sequences: exactly one cause, actions one after the other until it is gone."""

import math
from collections.abc import Sequence

import numpy as np

from triage.errors import OutOfRangeError
from triage.knowledge._model import Floats


def order_by_ratio(success: Sequence[float], cost: Sequence[float]) -> tuple[int, ...]:
    """Return the order of least expected cost when there is exactly one cause.

    Parameters
    ----------
    success : sequence of float, shape (n,), 0 to 1
        Probability that an action cures the case; each action has causes of its own.
    cost : sequence of float, shape (n,), > 0
        Cost of the action; when an action is a look and the repair follows only if the part is
        broken, cost of the look.

    Returns
    -------
    tuple of int, shape (n,)
        Places in descending success/cost; equal ratios in the order given.

    Raises
    ------
    OutOfRangeError
        If the lengths differ, a probability is outside 0 to 1, or a cost is not above 0.

    Notes
    -----
    Source: [kadane1977], [heckerman1995].
    """
    _check_sequence(success, cost)
    return tuple(sorted(range(len(cost)), key=lambda at: (-success[at] / cost[at], at)))


def expected_cost(
    success: Sequence[float], cost: Sequence[float], repair_cost: Sequence[float] | None = None
) -> float:
    """Return the expected cost of doing actions in the order given, exactly one cause.

    Parameters
    ----------
    success, cost : sequence of float, shape (n,)
        As for `order_by_ratio`.
    repair_cost : sequence of float, shape (n,), optional
        Cost of the repair that follows a look that finds the part broken.

    Returns
    -------
    float
        c1 + (1 - p1)·c2 + (1 - p1 - p2)·c3 + … + sum of p·repair_cost.

    Raises
    ------
    OutOfRangeError
        As `order_by_ratio`, or if the probabilities sum to more than 1.

    Notes
    -----
    Source: [kadane1977], [heckerman1995].
    """
    _check_sequence(success, cost)
    if sum(success) > 1.0 + 1e-9:
        msg = f"the probabilities sum to {sum(success):g}; one cause allows at most 1"
        raise OutOfRangeError(msg)
    total = 0.0
    cured = 0.0
    for chance, price in zip(success, cost, strict=True):
        total += (1.0 - cured) * price
        cured += chance
    if repair_cost is not None:
        total += sum(p * price for p, price in zip(success, repair_cost, strict=True))
    return total


def _check_sequence(success: Sequence[float], cost: Sequence[float]) -> None:
    if len(success) != len(cost):
        msg = f"{len(success)} probabilities and {len(cost)} costs: one of each is needed"
        raise OutOfRangeError(msg)
    for chance in success:
        if not 0.0 <= chance <= 1.0:
            msg = f"probability {chance:g} is outside 0 to 1"
            raise OutOfRangeError(msg)
    for price in cost:
        if not 0.0 < price < math.inf:
            msg = f"cost {price:g} must be above 0"
            raise OutOfRangeError(msg)


def order_recomputed(chances: Floats, cure: Floats, cost: Floats) -> tuple[int, ...]:
    """Return the order by success over cost, re-computed after each failure, exactly one cause.

    Parameters
    ----------
    chances : array, shape (faults,)
        Probability of each cause; at most 1 together.
    cure : array, shape (actions, faults)
        Probability that an action cures a cause. Actions may overlap.
    cost : array, shape (actions,), > 0

    Returns
    -------
    tuple of int, shape (actions,)
        Not always the cheapest order: with overlapping actions no simple rule is.

    Notes
    -----
    Source: [sacso2000].
    """
    left = np.array(chances, dtype=float)
    waiting = list(range(len(cost)))
    order: list[int] = []
    while waiting:
        best = max(waiting, key=lambda at: (float(cure[at] @ left) / cost[at], -at))
        waiting.remove(best)
        order.append(best)
        left *= 1.0 - cure[best]
    return tuple(order)


def expected_sequence_cost(
    chances: Floats, cure: Floats, cost: Floats, order: Sequence[int]
) -> float:
    """Return the expected cost of overlapping actions in an order, exactly one cause.

    Parameters and source as for `order_recomputed`.
    """
    left = np.array(chances, dtype=float)
    rest = 1.0 - float(left.sum())
    total = 0.0
    for at in order:
        total += float(cost[at]) * (float(left.sum()) + rest)
        left *= 1.0 - cure[at]
    return total
