"""Spiegelhalter et al. 2004: a drug expected to help 40 of 100, then 15 of 20."""

import importlib
import importlib.util
from collections.abc import Callable

import pytest

from triage.learning import Beta
from triage.workings.proportions import chance_of_at_least

pytestmark = pytest.mark.source("spiegelhalter2004")

PRIOR = Beta(9.2, 13.8)


def test_beta_after_trial_has_the_recalled_figures() -> None:
    """Beta(24.2, 18.8): mean 0.5628, deviation 0.0748."""
    after = PRIOR.after(15, 5)

    assert (after.successes, after.failures) == pytest.approx((24.2, 18.8))
    assert after.mean == pytest.approx(0.5628, abs=5e-5)
    assert after.deviation == pytest.approx(0.0748, abs=5e-5)


def test_beta_foretells_the_next_trial() -> None:
    """P(25 or more of the next 40) is 0.329; P(15 or more of 20) was 0.0153 beforehand."""
    after = PRIOR.after(15, 5)

    later = chance_of_at_least(25, 40, a=after.successes, b=after.failures)
    before = chance_of_at_least(15, 20, a=PRIOR.successes, b=PRIOR.failures)

    assert later == pytest.approx(0.329, abs=5e-4)
    assert before == pytest.approx(0.0153, abs=5e-5)


def test_beta_foretells_as_scipy_does(needs: Callable[[str, bool], None]) -> None:
    """The library's beta-binomial distribution gives the same."""
    needs("SciPy (the extra 'oracle')", importlib.util.find_spec("scipy") is not None)
    stats = importlib.import_module("scipy.stats")
    after = PRIOR.after(15, 5)

    oracle = stats.betabinom(40, after.successes, after.failures)

    assert oracle.sf(24) == pytest.approx(0.329, abs=5e-4)
    assert after.deviation == pytest.approx(stats.beta(24.2, 18.8).std(), rel=1e-12)
