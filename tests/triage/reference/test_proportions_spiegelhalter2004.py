"""The drug example: what is expected of the next patients before and after a trial."""

import pytest

from triage.workings.proportions import chance_of_at_least

pytestmark = pytest.mark.source("spiegelhalter2004")


def test_chance_of_at_least_15_of_20_before_the_trial() -> None:
    """Beta(9.2, 13.8) gives 15 or more successes of 20 with 0.0153."""
    chance = chance_of_at_least(15, 20, a=9.2, b=13.8)

    assert chance == pytest.approx(0.0153, abs=5e-5)
    assert chance == pytest.approx(0.015260, abs=5e-7)  # computed with a library


def test_chance_of_at_least_25_of_40_after_the_trial() -> None:
    """After 15 of 20 it is Beta(24.2, 18.8), which gives 25 or more of 40 with 0.329."""
    chance = chance_of_at_least(25, 40, a=9.2 + 15, b=13.8 + 5)

    assert chance == pytest.approx(0.329, abs=5e-4)
    assert chance == pytest.approx(0.329013, abs=5e-7)  # computed with a library
