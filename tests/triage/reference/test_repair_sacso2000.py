"""Actions that overlap: no simple order is the cheapest, the search is."""

from itertools import permutations

import numpy as np
import pytest

from tests.triage.networks import make_action, make_evidence, make_network
from triage.inference import compute_posterior
from triage.repair import (
    as_one_cause,
    expected_sequence_cost,
    find_order,
    make_trials,
    order_by_ratio,
    order_recomputed,
    plan_repair,
)

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


def test_the_cheapest_order_of_all_is_found() -> None:
    """The least of all orders is 1.45, a3 then a2, and the search finds it."""
    costs = [expected_sequence_cost(CHANCES, CURE, COST, order) for order in permutations(range(3))]

    found = find_order(as_one_cause(CHANCES), make_trials(CURE, COST))

    assert min(costs) == pytest.approx(1.45, rel=1e-12)
    assert found.cost == pytest.approx(1.45, rel=1e-12)
    assert found.places[:2] == (2, 1)
    assert found.is_exact


def test_a_plan_takes_the_cheapest_order() -> None:
    """A network in which one of four rare faults explains what is seen: a3, then a2, 1.45."""
    network = make_network(
        (CHANCES * 1e-6).tolist(),
        [1e-12],
        {(fault, 0): 1.0 for fault in range(4)},
        actions=[
            make_action(
                f"a{at + 1}",
                minutes=1.0,
                cures={f"f{fault}": 1.0 for fault in np.flatnonzero(row).tolist()},
            )
            for at, row in enumerate(CURE)
        ],
    )
    evidence = make_evidence(present=(0,))

    plan = plan_repair(network, compute_posterior(network, evidence), evidence=evidence)

    assert [step.action for step in plan.steps] == ["a3", "a2"]
    # One in a million cases has two faults or none; the last resort then costs 480.
    assert plan.expected_minutes == pytest.approx(1.45, abs=1e-5)
    assert plan.expected_cost == pytest.approx(1.45, abs=2e-3)


def test_a_rest_no_action_cures_is_paid_for_to_the_end() -> None:
    """What is left of the probability after all causes keeps every action going."""
    found = expected_sequence_cost(np.array([0.5]), np.array([[1.0]]), np.array([4.0]), [0])

    assert found == pytest.approx(4.0)
