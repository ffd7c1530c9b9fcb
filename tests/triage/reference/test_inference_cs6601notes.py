"""Lung disease given a cough, and given a cough and a fever.

The notes' table of cough given lung disease and cold (0.80, 0.75, 0.30, 0.05) is no noisy-OR:
with that leak and those single causes both together would give 0.816. The cold is therefore
summed out by hand; what is left, one fault and one finding, any noisy-OR can hold.
"""

import pytest

from tests.triage.networks import make_evidence, make_network
from triage.inference import compute_posterior

pytestmark = pytest.mark.source("cs6601notes")

COLD = 0.3


def lung_disease(if_ill: float, if_well: float) -> float:
    """Return P(lung disease) after something seen that has these probabilities."""
    knowledge = make_network([0.1], [if_well], {(0, 0): 1.0 - (1.0 - if_ill) / (1.0 - if_well)})
    return compute_posterior(knowledge, make_evidence(present=[0])).chances["f0"]


def test_lung_disease_given_a_cough() -> None:
    """The printed value has three digits."""
    found = lung_disease(COLD * 0.80 + (1 - COLD) * 0.75, COLD * 0.30 + (1 - COLD) * 0.05)

    assert found == pytest.approx(0.405, abs=5.1e-4)


def test_lung_disease_given_a_cough_and_a_fever() -> None:
    """The fever speaks for a cold, which explains the cough away; three printed digits."""
    found = lung_disease(
        COLD * 0.80 * 0.65 + (1 - COLD) * 0.75 * 0.25,
        COLD * 0.30 * 0.65 + (1 - COLD) * 0.05 * 0.25,
    )

    assert found == pytest.approx(0.322, abs=5.1e-4)
