"""The share of girls among births with placenta praevia, uniform prior."""

import pytest

from triage.workings.proportions import beta_below, beta_interval

pytestmark = pytest.mark.source("gelman2013")


def test_beta_interval_of_the_share_of_girls() -> None:
    """437 girls of 980: Beta(438, 544) lies within 0.415 to 0.477 with 95 %."""
    interval = beta_interval(438, 544)

    # The book prints three decimals, a computation of ours 0.41507 to 0.47720.
    assert (interval.low, interval.high) == pytest.approx((0.415, 0.477), abs=5e-4)
    assert (interval.low, interval.high) == pytest.approx((0.41507, 0.47720), abs=5e-6)
    assert beta_below(interval.high, a=438, b=544) == pytest.approx(0.975, abs=1e-12)
