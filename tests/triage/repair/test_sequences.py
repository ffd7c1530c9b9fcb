"""Textbook sequences refuse numbers that mean nothing."""

import math

import pytest

from triage.errors import OutOfRangeError
from triage.repair import expected_cost, order_by_ratio


@pytest.mark.parametrize(
    ("success", "cost", "message"),
    [
        ([0.5], [1.0, 2.0], "1 probabilities and 2 costs"),
        ([1.5], [1.0], "probability 1.5 is outside 0 to 1"),
        ([-0.1], [1.0], "probability -0.1 is outside"),
        ([0.5], [0.0], "cost 0 must be above 0"),
        ([0.5], [math.inf], "cost inf must be above 0"),
    ],
)
def test_sequence_refuses_what_means_nothing(
    success: list[float], cost: list[float], message: str
) -> None:
    """Both functions name the value and the limit."""
    with pytest.raises(OutOfRangeError, match=message):
        order_by_ratio(success, cost)
    with pytest.raises(OutOfRangeError, match=message):
        expected_cost(success, cost)


def test_expected_cost_refuses_more_than_one_cause() -> None:
    """Probabilities of one cause cannot sum to more than 1."""
    with pytest.raises(OutOfRangeError, match=r"sum to 1\.2"):
        expected_cost([0.6, 0.6], [1.0, 1.0])


def test_nothing_to_do_costs_nothing() -> None:
    """The empty sequence is allowed."""
    assert order_by_ratio([], []) == ()
    assert expected_cost([], []) == 0.0
