"""Probabilities of 0 and 1 in the knowledge: exact answers, or a refusal of what cannot be."""

import math

import pytest
from hypothesis import given

from tests.triage.strategies import PATIENT, Drawn, extreme_networks
from triage.errors import ImpossibleEvidenceError
from triage.inference import compute_joint, compute_posterior, list_explanations

EXACT = 1e-12


@given(extreme_networks())
@PATIENT
def test_certainties_are_those_of_brute_force(drawn: Drawn) -> None:
    """What has probability 0 is refused; everything else agrees with exact fractions."""
    judged = drawn.judge()

    if judged.evidence == 0:
        with pytest.raises(ImpossibleEvidenceError, match="probability 0"):
            compute_posterior(drawn.knowledge, drawn.evidence)
        return
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)

    assert math.exp(posterior.log_evidence) == pytest.approx(float(judged.evidence), rel=EXACT)
    found = list(posterior.chances.values())
    assert found == pytest.approx([float(part) for part in judged.posterior], rel=EXACT)


@given(extreme_networks())
@PATIENT
def test_best_sets_with_certainties_are_those_of_the_full_list(drawn: Drawn) -> None:
    """Sets that cannot be are not listed, and no possible one is missed."""
    if drawn.judge().evidence == 0:
        return
    joint = compute_joint(drawn.knowledge, drawn.evidence)

    found = list_explanations(
        drawn.knowledge, compute_posterior(drawn.knowledge, drawn.evidence), limit=20
    )

    possible = sorted(joint[joint > 0.0].tolist(), reverse=True)
    assert [entry.probability for entry in found.sets] == pytest.approx(possible, rel=1e-11)
    assert found.covered == pytest.approx(1.0)
