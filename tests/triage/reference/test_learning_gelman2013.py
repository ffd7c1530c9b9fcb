"""Gelman et al., Bayesian Data Analysis, section 2.4: births with placenta previa."""

import importlib
import importlib.util
from collections.abc import Callable

import pytest

from triage.learning import Beta
from triage.workings.proportions import beta_interval

pytestmark = pytest.mark.source("gelman2013")

GIRLS, BIRTHS = 437, 980


def test_beta_after_uniform_prior_has_the_printed_mean_and_deviation() -> None:
    """Beta(438, 544): 0.446 and 0.016, as many digits as are printed."""
    after = Beta(1.0, 1.0).after(GIRLS, BIRTHS - GIRLS)

    assert (after.successes, after.failures) == (438.0, 544.0)
    assert after.mean == pytest.approx(0.446, abs=5e-4)
    assert after.deviation == pytest.approx(0.016, abs=5e-4)


def test_beta_after_uniform_prior_has_the_printed_interval() -> None:
    """Central 95 % from 0.415 to 0.477."""
    after = Beta(1.0, 1.0).after(GIRLS, BIRTHS - GIRLS)

    interval = beta_interval(after.successes, after.failures)

    assert (interval.low, interval.high) == pytest.approx((0.415, 0.477), abs=5e-4)


def test_beta_agrees_with_scipy(needs: Callable[[str, bool], None]) -> None:
    """Mean and deviation are those of the library, to rounding."""
    needs("SciPy (the extra 'oracle')", importlib.util.find_spec("scipy") is not None)
    stats = importlib.import_module("scipy.stats")
    after = Beta(1.0, 1.0).after(GIRLS, BIRTHS - GIRLS)

    oracle = stats.beta(438, 544)

    assert after.mean == pytest.approx(oracle.mean(), rel=1e-12)
    assert after.deviation == pytest.approx(oracle.std(), rel=1e-12)
    assert oracle.interval(0.95) == pytest.approx((0.415, 0.477), abs=5e-4)
