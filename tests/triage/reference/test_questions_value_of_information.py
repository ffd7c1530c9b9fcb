"""The value of information of textbook decisions."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.questions import (
    expected_value_of_information,
    expected_value_of_perfect_information,
    information_gain_bits,
)

FOUND = [[-7.0, 0.0], [5.0, 0.0], [20.0, 0.0]]  # [koller2009]
MARKET = [0.5, 0.3, 0.2]  # [koller2009]
SURVEY = [[0.6, 0.3, 0.1], [0.3, 0.4, 0.3], [0.1, 0.4, 0.5]]  # [koller2009], from memory


@pytest.mark.source("savage2020")
def test_a_perfect_forecast_of_rain_is_worth_seven_fifty() -> None:
    """An umbrella for 25, damage of 100, rain one day in ten: 7.50."""
    value = expected_value_of_perfect_information([0.1, 0.9], [[-25.0, -100.0], [-25.0, 0.0]])

    assert value == pytest.approx(7.50)


@pytest.mark.source("treeplan")
def test_a_perfect_prediction_of_a_launch_is_worth_forty_thousand() -> None:
    """Expected value 190,000, with a perfect prediction 230,000."""
    utilities = [[400_000.0, 0.0], [100_000.0, 0.0], [-200_000.0, 0.0]]

    chances = [0.5, 0.3, 0.2]

    value = expected_value_of_perfect_information(chances, utilities)

    assert np.array(chances) @ np.array(utilities)[:, 0] == pytest.approx(190_000.0)
    assert value == pytest.approx(40_000.0)


@pytest.mark.source("koller2009")
def test_a_survey_before_founding_a_company_is_worth_one_and_a_quarter() -> None:
    """Founding is worth 2 as it stands, 3.25 after the survey."""
    assert np.array(MARKET) @ np.array(FOUND)[:, 0] == pytest.approx(2.0)
    assert expected_value_of_information(MARKET, SURVEY, FOUND) == pytest.approx(1.25)


@pytest.mark.source("mitchell1997")
def test_gain_of_every_attribute_of_the_fourteen_days_is_as_printed() -> None:
    """Outlook, with three values, 0.247 (the book cuts to .246); temperature 0.029."""
    outlook = ((2, 3), (4, 0), (3, 2))
    temperature = ((2, 2), (4, 2), (3, 1))
    for days, printed in ((outlook, 0.247), (temperature, 0.029)):
        table = np.array(days, dtype=float)
        likelihood = (table / table.sum(axis=0)).T

        gain = information_gain_bits([9 / 14, 5 / 14], likelihood)

        assert gain == pytest.approx(printed, abs=5e-4)


@st.composite
def decisions(draw: st.DrawFn) -> tuple[list[float], np.ndarray, np.ndarray, np.ndarray]:
    """Return a prior, the likelihoods of two observations, and utilities."""
    states, acts = draw(st.integers(2, 4)), draw(st.integers(1, 4))
    share = st.floats(0.05, 1.0)

    def rows(count: int, width: int) -> np.ndarray:
        values = np.array([[draw(share) for _ in range(width)] for _ in range(count)])
        return np.asarray(values / values.sum(axis=1, keepdims=True))

    utility = st.floats(-100.0, 100.0)
    utilities = np.array([[draw(utility) for _ in range(acts)] for _ in range(states)])
    return rows(1, states)[0].tolist(), rows(states, 2), rows(states, 3), utilities


@pytest.mark.source("koller2009")
@given(decisions())
def test_information_is_never_worth_less_than_nothing_nor_more_than_all(
    task: tuple[list[float], np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """0 to the value of perfect information, and two observations in either order the same."""
    prior, one, other, utilities = task
    both = np.einsum("sa,sb->sab", one, other).reshape(len(prior), -1)
    swapped = np.einsum("sa,sb->sba", one, other).reshape(len(prior), -1)

    value = expected_value_of_information(prior, one, utilities)
    together = expected_value_of_information(prior, both, utilities)

    assert 0.0 <= value <= together + 1e-9
    assert together <= expected_value_of_perfect_information(prior, utilities) + 1e-9
    assert together == pytest.approx(
        expected_value_of_information(prior, swapped, utilities), abs=1e-9
    )


@pytest.mark.source("koller2009")
def test_information_does_not_add_up() -> None:
    """Two halves of a secret are worth nothing alone and all together."""
    pairs = list(itertools.product((0, 1), repeat=2))
    first = [[1.0 - a, float(a)] for a, _ in pairs]
    second = [[1.0 - b, float(b)] for _, b in pairs]
    both = np.eye(4)
    utilities = [[1.0, 0.0] if a == b else [0.0, 1.0] for a, b in pairs]
    prior = [0.25] * 4

    assert expected_value_of_information(prior, first, utilities) == pytest.approx(0.0)
    assert expected_value_of_information(prior, second, utilities) == pytest.approx(0.0)
    assert expected_value_of_information(prior, both, utilities) == pytest.approx(0.5)
