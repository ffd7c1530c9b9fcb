"""The worked example and the exchange rule of the answer on the order of actions."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from triage.repair import expected_cost, order_by_ratio

pytestmark = pytest.mark.source("csexchange144646")


def test_worked_example_costs_what_is_printed() -> None:
    """Success 0.8 and 0.2, cost 3 and 2: 3.4 in the better order, 4.4 in the other."""
    assert order_by_ratio([0.8, 0.2], [3, 2]) == (0, 1)
    assert expected_cost([0.8, 0.2], [3, 2]) == pytest.approx(3.4, rel=1e-15)
    assert expected_cost([0.2, 0.8], [2, 3]) == pytest.approx(4.4, rel=1e-15)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.tuples(st.floats(0.0, 0.1), st.floats(0.5, 100.0)), min_size=2, max_size=8),
    st.data(),
)
def test_swapping_neighbours_changes_the_cost_as_proved(
    actions: list[tuple[float, float]], data: st.DataObject
) -> None:
    """Swapping i and its successor j changes the expected cost by p_i·c_j - p_j·c_i."""
    at = data.draw(st.integers(0, len(actions) - 2))
    swapped = [*actions[:at], actions[at + 1], actions[at], *actions[at + 2 :]]

    def cost(order: list[tuple[float, float]]) -> float:
        return expected_cost([p for p, _ in order], [c for _, c in order])

    (p_i, c_i), (p_j, c_j) = actions[at], actions[at + 1]
    assert cost(swapped) - cost(actions) == pytest.approx(p_i * c_j - p_j * c_i, abs=1e-9)
