"""Scores of forecasts: laws, edges of bins and refusals."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.errors import InputError, OutOfRangeError
from triage.workings.forecasts import (
    brier_score,
    brier_score_classes,
    calibration_error,
    decompose_brier,
    log_loss,
    reliability_table,
)

FORECASTS = st.lists(st.tuples(st.booleans(), st.floats(0, 1)), min_size=1, max_size=40)


@given(forecasts=FORECASTS)
def test_parts_by_value_sum_to_the_score(forecasts: list[tuple[bool, float]]) -> None:
    """Reliability less resolution plus uncertainty, whatever was forecast."""
    outcomes, chances = zip(*forecasts, strict=True)

    parts = decompose_brier(outcomes, chances)

    assert parts.reliability - parts.resolution + parts.uncertainty == pytest.approx(
        brier_score(outcomes, chances), abs=1e-12
    )


@given(forecasts=FORECASTS, bins=st.integers(1, 12))
def test_calibration_error_is_that_of_the_table(
    forecasts: list[tuple[bool, float]], bins: int
) -> None:
    """The mean distance of forecast and outcome over the rows of the table."""
    outcomes, chances = zip(*forecasts, strict=True)

    rows = reliability_table(outcomes, chances, bins=bins)

    assert sum(row.count for row in rows) == len(chances)
    assert all(row.low <= row.forecast <= row.high + 1e-15 for row in rows)
    assert calibration_error(outcomes, chances, bins=bins) == pytest.approx(
        sum(row.count * abs(row.forecast - row.observed) for row in rows) / len(chances), abs=1e-12
    )


def test_calibration_error_of_forecasts_too_sure() -> None:
    """Sure to nine tenths and right in six tenths: 0.3 too sure."""
    assert calibration_error([1] * 6 + [0] * 4, [0.9] * 10) == pytest.approx(0.3)


def test_forecast_on_an_edge_belongs_to_the_bin_above() -> None:
    """0 is in the first bin, 0.5 in the upper of two, 1 in the last."""
    rows = reliability_table([0, 1, 1], [0.0, 0.5, 1.0], bins=2)

    assert [(row.low, row.high, row.count) for row in rows] == [(0.0, 0.5, 1), (0.5, 1.0, 2)]


def test_empty_bins_are_left_out() -> None:
    """Only the bins with a forecast have a row."""
    rows = reliability_table([0, 1], [0.05, 0.95])

    assert [row.low for row in rows] == [0.0, 0.9]


def test_log_loss_of_a_flat_denial_is_that_of_the_floor() -> None:
    """What was held impossible and happened costs -ln of the floor, not infinitely much."""
    assert log_loss([1], [0.0], floor=0.01) == pytest.approx(-math.log(0.01))
    assert log_loss([0], [1.0], floor=0.01) == pytest.approx(-math.log(0.01))


def test_honest_chances_score_best() -> None:
    """Brier and log-loss are proper: of all chances, the true share does best."""
    outcomes = [1] * 7 + [0] * 3
    steps = np.linspace(0.05, 0.95, 19)

    for score in (brier_score, log_loss):
        costs = [score(outcomes, [chance] * 10) for chance in steps]

        assert steps[int(np.argmin(costs))] == pytest.approx(0.7)


@pytest.mark.parametrize(
    ("call", "error", "message"),
    [
        (lambda: brier_score([], []), InputError, r"shape \(0,\)"),
        (lambda: brier_score([1], [0.5, 0.5]), InputError, r"must be two rows of the same length"),
        (lambda: brier_score([1], [1.2]), OutOfRangeError, r"probability of 1\.2 is outside"),
        (lambda: brier_score([1], [math.nan]), OutOfRangeError, r"probability of nan"),
        (lambda: brier_score([2], [0.5]), OutOfRangeError, r"outcome of 2 is neither 0 nor 1"),
        (lambda: log_loss([1], [0.5], floor=0.0), OutOfRangeError, r"a floor of 0 must lie"),
        (lambda: reliability_table([1], [0.5], bins=0), OutOfRangeError, r"0 bins; 1 or more"),
        (lambda: brier_score_classes([], []), InputError, r"0 outcomes need a table"),
        (lambda: brier_score_classes([0], [[0.4, 0.4]]), InputError, r"a row sum to 0\.8"),
        (lambda: brier_score_classes([2], [[0.5, 0.5]]), OutOfRangeError, r"must be columns 0 to"),
    ],
)
def test_forecasts_refuse_what_means_nothing(
    call: object, error: type[Exception], message: str
) -> None:
    """The message names the value and the limit."""
    with pytest.raises(error, match=message):
        call()  # type: ignore[operator]
