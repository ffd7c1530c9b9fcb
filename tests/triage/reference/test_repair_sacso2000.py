"""Actions that overlap: no simple order is the cheapest, and ours is not either."""

from itertools import permutations

import numpy as np
import pytest

from triage.repair import expected_sequence_cost, order_by_ratio, order_recomputed

pytestmark = pytest.mark.source("sacso2000")

CHANCES = np.array([0.20, 0.25, 0.40, 0.15])
CURE = np.array([[0.0, 1.0, 1.0, 0.0], [1.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 1.0]])
COST = np.ones(3)


def test_order_without_recomputing_costs_most() -> None:
    """Success over cost taken once gives a1, a3, a2 at 1.55."""
    order = order_by_ratio((CURE @ CHANCES).tolist(), COST.tolist())

    assert order == (0, 2, 1)
    assert expected_sequence_cost(CHANCES, CURE, COST, order) == pytest.approx(1.55, rel=1e-12)


def test_recomputing_after_each_failure_costs_less() -> None:
    """Re-computed success over cost gives a1, a2, a3 at 1.50."""
    order = order_recomputed(CHANCES, CURE, COST)

    assert order == (0, 1, 2)
    assert expected_sequence_cost(CHANCES, CURE, COST, order) == pytest.approx(1.50, rel=1e-12)


def test_the_cheapest_order_is_missed_by_both() -> None:
    """The least of all orders is 1.45: the known limit of ordering step by step."""
    costs = [expected_sequence_cost(CHANCES, CURE, COST, order) for order in permutations(range(3))]

    assert min(costs) == pytest.approx(1.45, rel=1e-12)


def test_a_rest_no_action_cures_is_paid_for_to_the_end() -> None:
    """What is left of the probability after all causes keeps every action going."""
    found = expected_sequence_cost(np.array([0.5]), np.array([[1.0]]), np.array([4.0]), [0])

    assert found == pytest.approx(4.0)
