"""Entropies and next questions in the network of 12 causes and 15 findings."""

import pytest

from tests.triage.networks import layers12x15_evidence, make_layers12x15
from triage.inference import compute_posterior
from triage.questions import expected_joint_drop, joint_entropy_bits, rank_questions

pytestmark = pytest.mark.source("layers12x15")

JOINT_DROP = {
    "e13": 0.65019198,
    "e8": 0.55096033,
    "e14": 0.54499616,
    "e2": 0.27842198,
    "e9": 0.19011755,
    "e5": 0.09927183,
    "e11": 0.08896339,
}
MARGINAL_DROP = {
    "e14": 0.82350856,
    "e13": 0.70279414,
    "e8": 0.57137427,
    "e2": 0.34893688,
    "e9": 0.18506023,
    "e5": 0.11533355,
    "e11": 0.08597519,
}

# Eight digits are printed.
PRINTED = 5.1e-9


def test_joint_entropy_agrees_with_the_printed_one() -> None:
    """The joint entropy before the next question has the printed digits."""
    found = joint_entropy_bits(make_layers12x15(), layers12x15_evidence())

    assert found == pytest.approx(5.01623359, abs=PRINTED)


@pytest.mark.parametrize("finding", JOINT_DROP)
def test_joint_drop_agrees_with_the_printed_one(finding: str) -> None:
    """The expected drop of the joint entropy has the printed digits for each finding."""
    found = expected_joint_drop(make_layers12x15(), layers12x15_evidence(), finding)

    assert found == pytest.approx(JOINT_DROP[finding], abs=PRINTED)


def test_questions_are_ranked_by_the_printed_marginal_drops() -> None:
    """All seven questions come in the printed order with the printed gains."""
    knowledge, evidence = make_layers12x15(), layers12x15_evidence()

    questions = rank_questions(knowledge, evidence, compute_posterior(knowledge, evidence))

    assert [question.finding for question in questions] == list(MARGINAL_DROP)
    gains = [question.gain_bits for question in questions]
    assert gains == pytest.approx(list(MARGINAL_DROP.values()), abs=PRINTED)


def test_the_two_entropies_choose_different_questions() -> None:
    """The joint entropy falls most by e13, the sum of the single ones by e14."""
    knowledge, evidence = make_layers12x15(), layers12x15_evidence()
    posterior = compute_posterior(knowledge, evidence)

    joint = {name: expected_joint_drop(knowledge, evidence, name) for name in JOINT_DROP}
    ranked = rank_questions(knowledge, evidence, posterior, objective="entropy")

    assert max(joint, key=lambda name: joint[name]) == "e13"
    assert ranked[0].finding == "e14"
    assert ranked[0].objective == "entropy"
