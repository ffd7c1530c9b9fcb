"""Success over cost is the cheapest order when there is exactly one cause."""

from itertools import permutations

import numpy as np
import pytest

from triage.repair import as_one_cause, expected_cost, find_order, make_trials, order_by_ratio

pytestmark = pytest.mark.source("kadane1977")

FIVE = ([0.35, 0.25, 0.20, 0.12, 0.08], [10, 4, 8, 1, 6])
TIES = ([0.40, 0.25, 0.20, 0.10, 0.05], [20, 5, 10, 2, 1])

Actions = tuple[list[float], list[int]]


def cost_in(order: tuple[int, ...], actions: Actions) -> float:
    """Return the expected cost of actions in an order."""
    success, cost = actions
    return expected_cost([success[at] for at in order], [cost[at] for at in order])


def all_costs(actions: Actions) -> list[float]:
    """Return the expected cost of every order, cheapest first."""
    return sorted(cost_in(order, actions) for order in permutations(range(len(actions[0]))))


def test_five_actions_are_ordered_as_computed() -> None:
    """The order is 4-2-1-3-5 at 13.54, the cheapest of all 120; then 13.77; worst 22.16."""
    order = order_by_ratio(*FIVE)

    assert order == (3, 1, 0, 2, 4)
    costs = all_costs(FIVE)
    assert [cost_in(order, FIVE), costs[0], costs[1], costs[-1]] == pytest.approx(
        [13.54, 13.54, 13.77, 22.16], rel=1e-12
    )


def test_ties_may_stand_in_any_order() -> None:
    """With equal ratios several orders cost the least, 21.15; the worst is 28.35."""
    costs = all_costs(TIES)

    assert cost_in(order_by_ratio(*TIES), TIES) == pytest.approx(21.15, rel=1e-12)
    assert sum(cost == pytest.approx(21.15, rel=1e-12) for cost in costs) > 1
    assert costs[-1] == pytest.approx(28.35, rel=1e-12)


@pytest.mark.parametrize(("actions", "least"), [(FIVE, 13.54), (TIES, 21.15)])
def test_the_search_finds_the_same_cost(actions: Actions, least: float) -> None:
    """What the search over sets finds costs as little as success over cost."""
    success, cost = actions

    found = find_order(as_one_cause(success), make_trials(np.eye(5), cost))

    assert found.cost == pytest.approx(least, rel=1e-12)
    assert cost_in(found.places, actions) == pytest.approx(least, rel=1e-12)
