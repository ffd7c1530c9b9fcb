"""Laplace's rule of succession: after s successes in n trials, (s + 1) / (n + 2)."""

from fractions import Fraction

import pytest

from triage.learning import Beta

pytestmark = pytest.mark.source("laplace1774")


@pytest.mark.parametrize(("successes", "trials"), [(0, 0), (9, 10), (0, 3), (182, 365)])
def test_beta_after_uniform_prior_follows_the_rule(successes: int, trials: int) -> None:
    """Nine of ten give 10/12."""
    after = Beta(1.0, 1.0).after(successes, trials - successes)

    assert after.mean == pytest.approx(float(Fraction(successes + 1, trials + 2)), rel=1e-15)
