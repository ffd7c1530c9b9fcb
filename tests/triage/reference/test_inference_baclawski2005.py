"""Flu given a fever.

The book's table of fever given cold and flu (0.01, 0.10, 0.90, 0.95) is no noisy-OR: both
together would give 0.909. The cold is summed out by hand, as in the lung disease example.
"""

import pytest

from tests.triage.networks import make_evidence, make_network
from triage.inference import compute_posterior

pytestmark = pytest.mark.source("baclawski2005")


def test_flu_given_a_fever() -> None:
    """The book prints 0.009, having rounded its table first; the tables themselves give 0.0082."""
    if_flu = 0.01 * 0.95 + 0.99 * 0.90
    if_not = 0.01 * 0.10 + 0.99 * 0.01
    knowledge = make_network([0.0001], [if_not], {(0, 0): 1.0 - (1.0 - if_flu) / (1.0 - if_not)})

    found = compute_posterior(knowledge, make_evidence(present=[0])).chances["f0"]

    assert found == pytest.approx(0.0081946, abs=5.1e-8)
    assert found == pytest.approx(0.009, abs=1e-3)
