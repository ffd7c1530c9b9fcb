"""Wilson's interval as statsmodels tests it, with reference values from R's package binom."""

import pytest

from triage.workings.proportions import wilson_interval

pytestmark = pytest.mark.source("statsmodels2025")


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [
        (18, 20, 0.69896635, 0.97213352),
        (4, 20, 0.08065766, 0.41601743),
        (4, 200, 0.00780443, 0.05028709),
        (190, 200, 0.91042185, 0.97261735),
        (1, 30, 0.00590859, 0.16670391),
        (29, 30, 0.8332961, 0.9940914),
        (0, 30, 0.0, 0.11351339),
        (30, 30, 0.8864866, 1.0),
    ],
)
def test_wilson_interval_is_the_printed_one(
    successes: int, trials: int, low: float, high: float
) -> None:
    """The ends agree to the seven or eight figures printed."""
    interval = wilson_interval(successes, trials)

    assert (interval.low, interval.high) == pytest.approx((low, high), abs=6e-8)


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [
        (9, 10, 0.59584998, 0.98212379),
        (3, 4, 0.30064184, 0.95441274),
        (1, 1, 0.20654931, 1.0),
        (0, 1, 0.0, 0.79345069),
        (23, 60, 0.27088272, 0.50982404),
    ],
)
def test_wilson_interval_of_few_trials_is_the_library_one(
    successes: int, trials: int, low: float, high: float
) -> None:
    """Computed with the library, not printed by it: small counts."""
    interval = wilson_interval(successes, trials)

    assert (interval.low, interval.high) == pytest.approx((low, high), abs=1e-8)


def test_wilson_interval_stays_within_0_and_1() -> None:
    """Rounding does not carry an end past 0 or 1: 38 of 38, and none of 77."""
    assert wilson_interval(38, 38).high == 1.0
    assert wilson_interval(0, 77).low == 0.0
