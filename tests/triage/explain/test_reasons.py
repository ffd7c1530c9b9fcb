"""Reasons for and against a fault, and the finding that would change the ranking."""

import math

import pytest

from tests.triage.networks import make_action, make_evidence, make_network
from triage.errors import UnknownIdError
from triage.evidence import Guess, Observation, TriedRemedy
from triage.explain import explain
from triage.inference import GUESS_ODDS
from triage.knowledge import Knowledge, Risk

LINKS = {(0, 0): 0.8, (0, 1): 0.6, (1, 2): 0.7}


def make_case() -> Knowledge:
    """Return two faults, three findings, one risk and one remedy."""
    return make_network(
        [0.2, 0.1],
        [0.05, 0.02, 0.1],
        LINKS,
        actions=[make_action("a0", cures={"f0": 0.9})],
        risks=[Risk("r0", "Risk", "Is it so?", "MEX", {"f0": 4.0}, "memory")],
    )


def test_each_piece_has_its_leave_one_out_weight() -> None:
    """With one fault involved the weights are plain likelihood ratios in decibans."""
    evidence = make_evidence(
        present=[0],
        absent=[1],
        risks=("r0",),
        tried=(TriedRemedy("a0", "no-change"),),
        guesses=(Guess("f0"),),
    )

    (reasons,) = explain(make_case(), evidence, faults=["f0"]).faults

    weights = {(reason.kind, reason.id): reason.decibans for reason in reasons.reasons}
    present = (1.0 - 0.95 * 0.2) / 0.05
    assert weights == {
        ("finding", "e0"): pytest.approx(10.0 * math.log10(present)),
        ("tried", "a0"): pytest.approx(10.0 * math.log10(0.1)),
        ("risk", "r0"): pytest.approx(10.0 * math.log10(4.0)),
        ("finding", "e1"): pytest.approx(10.0 * math.log10(0.4)),
        ("guess", "f0"): pytest.approx(10.0 * math.log10(GUESS_ODDS)),
    }
    assert [abs(reason.decibans) for reason in reasons.reasons] == sorted(
        (abs(weight) for weight in weights.values()), reverse=True
    )
    states = {reason.id: reason.state for reason in reasons.reasons}
    assert states == {
        "e0": "present",
        "e1": "absent",
        "r0": "present",
        "a0": "no-change",
        "f0": "present",
    }


def test_evidence_that_weighs_nothing_is_left_out() -> None:
    """A finding of another fault is no reason."""
    explanation = explain(make_case(), make_evidence(present=[2]), faults=["f0", "f1"])

    assert explanation.faults[0].reasons == ()
    assert [reason.id for reason in explanation.faults[1].reasons] == ["e2"]


def test_sources_of_a_finding_are_named_together() -> None:
    """Text and photo about one finding are one reason with both sources."""
    seen = (
        Observation("e0", "present", 0.9, 0.1, source="text"),
        Observation("e0", "present", 0.8, 0.2, source="photo"),
        Observation("e0", "present", 0.9, 0.1, source="text"),
    )
    evidence = make_evidence()
    evidence = type(evidence)(process="MEX", observations=seen)

    (reasons,) = explain(make_case(), evidence, faults=["f0"]).faults

    assert [reason.source for reason in reasons.reasons] == ["text, photo"]


def test_certainty_has_no_finite_weight_and_is_left_out() -> None:
    """A fault that is impossible or certain either way has no log-odds to change."""
    knowledge = make_network([1.0, 0.0, 0.3], [0.1], {(0, 0): 0.5, (2, 0): 0.5})

    explanation = explain(knowledge, make_evidence(present=[0]), faults=["f0", "f1"])

    assert [found.reasons for found in explanation.faults] == [(), ()]


def test_the_finding_that_would_change_the_ranking_is_named() -> None:
    """The answer likeliest to put another fault first: here a "no" about the leader."""
    # f0 leads with 0.2; a "no" to e1 leaves it 0.09, below the 0.1 of f1.
    assert explain(make_case(), make_evidence(), faults=[]).would_change == "e1"
    # Without e0 f1 leads with 0.1 before 0.05; a "no" to e2 leaves it 0.03.
    assert explain(make_case(), make_evidence(absent=[0]), faults=[]).would_change == "e2"


def test_nothing_would_change_a_settled_case() -> None:
    """When no single answer can change the leader none is named."""
    knowledge = make_network([0.9, 0.01], [0.1, 0.5], {(0, 0): 0.5, (1, 1): 0.2})

    assert explain(knowledge, make_evidence(), faults=["f0"]).would_change is None


def test_a_case_without_questions_names_no_changer() -> None:
    """Nothing to ask, nothing to change."""
    knowledge = make_network([0.1], [0.1], {(0, 0): 0.5})

    assert explain(knowledge, make_evidence(present=[0]), faults=["f0"]).would_change is None


def test_an_unknown_fault_is_refused_with_the_nearest() -> None:
    """The message names the nearest fault."""
    with pytest.raises(UnknownIdError, match="unknown fault 'f2'; the nearest valid name is"):
        explain(make_case(), make_evidence(), faults=["f2"])
