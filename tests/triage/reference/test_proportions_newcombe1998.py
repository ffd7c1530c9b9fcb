"""Wilson's interval of the four proportions Newcombe compares methods with."""

import pytest

from triage.workings.proportions import wilson_interval

pytestmark = pytest.mark.source("newcombe1998")


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_interval_agrees_with_method_3(
    successes: int, trials: int, low: float, high: float
) -> None:
    """The table prints four decimals."""
    interval = wilson_interval(successes, trials)

    assert (interval.low, interval.high) == pytest.approx((low, high), abs=5.1e-5)
