"""Entropy of Mitchell's fourteen days, 9 of them yes, and the gain of each attribute."""

import numpy as np
import pytest

from triage.inference import AnswerEffects
from triage.previews import entropy_bits, marginal_gains

pytestmark = pytest.mark.source("mitchell1997")


def gain(yes: tuple[int, int], no: tuple[int, int]) -> float:
    """Return the gain of a two-valued attribute from its (yes, no) days on each side."""
    total = sum(yes) + sum(no)
    effects = AnswerEffects(
        findings=("attribute",),
        present=np.array([sum(yes) / total]),
        now=np.array([(yes[0] + no[0]) / total]),
        if_present=np.array([[yes[0] / sum(yes)]]),
        if_absent=np.array([[no[0] / sum(no)]]),
    )
    return float(marginal_gains(effects)[0])


def test_entropy_of_the_days_is_as_printed() -> None:
    """9 of 14 days: 0.940 bits."""
    assert entropy_bits(np.array([9 / 14]))[0] == pytest.approx(0.940, abs=5e-4)


def test_gain_of_humidity_and_wind_is_as_printed() -> None:
    """The two-valued attributes gain 0.151 and 0.048 bits."""
    # The book cuts 0.1518 to three digits instead of rounding it.
    assert gain((3, 4), (6, 1)) == pytest.approx(0.151, abs=1e-3)
    assert gain((6, 2), (3, 3)) == pytest.approx(0.048, abs=5e-4)
