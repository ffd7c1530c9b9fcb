"""Look first, repair if broken: the order follows from the cost of looking alone."""

from itertools import permutations

import pytest

from triage.repair import expected_cost, order_by_ratio

pytestmark = pytest.mark.source("heckerman1995")

SUCCESS = [0.35, 0.25, 0.20, 0.12, 0.08]
LOOK = [10, 4, 8, 1, 6]
REPAIR = [30, 20, 5, 2, 50]


def cost_in(order: tuple[int, ...]) -> float:
    """Return the expected cost of looking and repairing in an order."""
    return expected_cost(
        [SUCCESS[at] for at in order], [LOOK[at] for at in order], [REPAIR[at] for at in order]
    )


def test_look_then_repair_costs_what_is_computed() -> None:
    """The order 4-2-1-3-5 costs 34.28, the least of all 120 orders."""
    order = order_by_ratio(SUCCESS, LOOK)

    assert order == (3, 1, 0, 2, 4)
    assert cost_in(order) == pytest.approx(34.28, rel=1e-12)
    assert min(map(cost_in, permutations(range(5)))) == pytest.approx(34.28, rel=1e-12)
