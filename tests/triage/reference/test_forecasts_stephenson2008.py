"""Binned forecasts need two further parts, or the parts do not sum to the Brier score."""

import numpy as np
import pytest

from triage.workings.forecasts import brier_score, decompose_brier_binned

pytestmark = pytest.mark.source("stephenson2008")


@pytest.mark.parametrize("bins", [1, 2, 5, 10, 37])
def test_five_parts_sum_to_the_score(bins: int) -> None:
    """Three hundred unequal forecasts: the sum closes with the two parts, not without them."""
    generator = np.random.default_rng(19)
    chances = generator.random(300)
    outcomes = generator.random(300) < chances**1.5

    parts = decompose_brier_binned(outcomes, chances, bins=bins)

    three = parts.reliability - parts.resolution + parts.uncertainty
    assert three + parts.within_variance - parts.within_covariance == pytest.approx(
        brier_score(outcomes, chances), abs=1e-14
    )
    assert abs(three - parts.score) > 1e-5
