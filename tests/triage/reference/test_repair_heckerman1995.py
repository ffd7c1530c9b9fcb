"""Look first, repair if broken: the order follows from the cost of looking alone."""

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from triage.repair import as_one_cause, expected_cost, find_order, make_trials, order_by_ratio

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


@settings(deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.01, 1.0), st.floats(0.1, 1.0), st.floats(1.0, 90.0)),
        min_size=1,
        max_size=10,
    ),
    st.floats(1.0, 500.0),
)
def test_a_last_resort_bounds_what_is_expected(
    actions: list[tuple[float, float, float]], last_resort: float
) -> None:
    """A service call that is sure to help ends every sequence; none costs more than it alone."""
    total = sum(chance for chance, _, _ in actions)
    chances = [chance / total for chance, _, _ in actions]
    cure = [
        [sure if at == row else 0.0 for at in range(len(actions))]
        for row, (_, sure, _) in enumerate(actions)
    ]
    trials = make_trials(cure, [cost for _, _, cost in actions])

    found = find_order(as_one_cause(chances), trials, last_resort=last_resort)

    assert found.cost <= last_resort * (1.0 + 1e-12)
    # The last action still pays; one before it may pay only by sparing those after it.
    if found.places:
        before = found.failing[-2] if len(found.places) > 1 else 1.0
        saved = (before - found.failing[-1]) * last_resort
        assert saved >= trials.cost[found.places[-1]] * before * (1.0 - 1e-9)
