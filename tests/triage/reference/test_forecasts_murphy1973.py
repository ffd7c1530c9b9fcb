"""Murphy's parts of the Brier score, by exact forecast value; the numbers are computed."""

import pytest

from triage.workings.forecasts import decompose_brier, decompose_brier_binned

pytestmark = pytest.mark.source("murphy1973")

CHANCES = [0.1] * 10 + [0.5] * 10 + [0.9] * 10
OUTCOMES = [1] + [0] * 9 + [1] * 5 + [0] * 5 + [1] * 8 + [0] * 2


def test_parts_of_thirty_forecasts() -> None:
    """Reliability 0.00333, resolution 0.08222, uncertainty 0.24889, score 0.17."""
    parts = decompose_brier(OUTCOMES, CHANCES)

    assert [parts.reliability, parts.resolution, parts.uncertainty] == pytest.approx(
        [0.00333333, 0.08222222, 0.24888889], abs=5e-9
    )
    assert parts.score == pytest.approx(0.17, abs=1e-15)
    assert parts.score == pytest.approx(
        parts.reliability - parts.resolution + parts.uncertainty, abs=1e-15
    )
    assert (parts.within_variance, parts.within_covariance) == pytest.approx((0, 0), abs=1e-30)


def test_bins_that_hold_one_value_change_nothing() -> None:
    """Ten bins keep 0.1, 0.5 and 0.9 apart."""
    exact, binned = decompose_brier(OUTCOMES, CHANCES), decompose_brier_binned(OUTCOMES, CHANCES)

    assert binned == exact
