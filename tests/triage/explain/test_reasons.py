"""Reasons for and against a fault, and that they add up."""

import math
from dataclasses import replace

import pytest
from hypothesis import given

from tests.triage.mixed_cases import DrawnCase, cases, with_finding, without_piece
from tests.triage.networks import (
    make_action,
    make_evidence,
    make_fault,
    make_finding,
    make_network,
)
from tests.triage.strategies import PATIENT
from triage.errors import UnknownIdError
from triage.evidence import Evidence, Guess, Observation, TriedRemedy
from triage.explain import explain
from triage.inference import GUESS_ODDS, compute_posterior
from triage.knowledge import Knowledge, Link, Material, Risk, build_knowledge

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


def decibans(chance: float) -> float:
    """Return the odds of a probability in decibans."""
    return 10.0 * math.log10(chance / (1.0 - chance))


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


@given(cases())
@PATIENT
def test_weights_are_log_odds_with_and_without_the_piece(drawn: DrawnCase) -> None:
    """Every reason is the difference of two posteriors computed in full, in decibans."""
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)

    explanation = explain(drawn.knowledge, drawn.evidence, faults=["f0", "f1", "f2"])

    for found in explanation.faults:
        now = decibans(posterior.chances[found.fault])
        assert found.posterior_decibans == pytest.approx(now, abs=1e-9)
        for reason in found.reasons:
            rest = without_piece(drawn.evidence, reason.kind, reason.id)
            without = compute_posterior(drawn.knowledge, rest).chances[found.fault]
            assert reason.decibans == pytest.approx(now - decibans(without), abs=1e-8)
        for group in found.absences:
            weights = []
            for name in group.findings:
                rest = with_finding(drawn.evidence, name, (1.0, 1.0))
                without = compute_posterior(drawn.knowledge, rest).chances[found.fault]
                weights.append(now - decibans(without))
            assert group.decibans == pytest.approx(sum(weights), abs=1e-8)


@given(cases())
@PATIENT
def test_prior_reasons_and_the_rest_add_up_to_the_posterior(drawn: DrawnCase) -> None:
    """What is told adds up, and nothing that weighs is told twice or not at all."""
    start = Evidence(process=drawn.evidence.process, material=drawn.evidence.material)
    before = compute_posterior(drawn.knowledge, start)

    (found,) = explain(drawn.knowledge, drawn.evidence, faults=["f0"]).faults

    assert found.prior_decibans == pytest.approx(decibans(before.chances["f0"]))
    told = sum(reason.decibans for reason in found.reasons)
    told += sum(group.decibans for group in found.absences)
    total = found.prior_decibans + told + found.together_decibans
    assert total == pytest.approx(found.posterior_decibans)
    single = {reason.id for reason in found.reasons if reason.kind == "finding"}
    assert not single & {name for group in found.absences for name in group.findings}


@pytest.mark.source("good1950")
def test_weights_add_up_when_pieces_do_not_explain_each_other() -> None:
    """Prior and independent weights give the posterior; ten times the odds are ten decibans."""
    # Present: 0.5 against a leak of 0.05 is ten times as probable with the fault.
    knowledge = make_network([0.5], [0.05, 0.0], {(0, 0): 0.45 / 0.95, (0, 1): 0.9})

    (found,) = explain(knowledge, make_evidence(present=[0], absent=[1]), faults=["f0"]).faults

    assert found.prior_decibans == pytest.approx(0.0)
    weights = {reason.id: reason.decibans for reason in found.reasons}
    assert weights == {"e0": pytest.approx(10.0), "e1": pytest.approx(-10.0)}
    assert found.together_decibans == pytest.approx(0.0, abs=1e-9)
    assert found.posterior_decibans == pytest.approx(0.0, abs=1e-9)


def test_what_either_of_two_signs_would_say_is_told_as_shared() -> None:
    """Each sign adds little to the other; what both say stands in the remainder."""
    # A rival explains both findings too.
    knowledge = make_network(
        [0.1, 0.3], [0.01, 0.01], {(0, 0): 0.9, (0, 1): 0.9, (1, 0): 0.5, (1, 1): 0.5}
    )

    (found,) = explain(knowledge, make_evidence(present=[0, 1]), faults=["f0"]).faults

    assert [reason.decibans > 0.0 for reason in found.reasons] == [True, True]
    assert found.together_decibans > max(reason.decibans for reason in found.reasons)


def test_signs_are_what_a_person_expects() -> None:
    """Its own signs speak for a fault and their absence against it; a rival's the other way."""
    knowledge = make_network(
        [0.1, 0.1], [0.05] * 3, {(0, 0): 0.8, (1, 0): 0.8, (0, 1): 0.7, (1, 2): 0.7}
    )

    (found,) = explain(knowledge, make_evidence(present=[0, 1, 2]), faults=["f0"]).faults
    (lacking,) = explain(knowledge, make_evidence(present=[0], absent=[1, 2]), faults=["f0"]).faults

    present = {reason.id: reason.decibans for reason in found.reasons}
    assert present["e0"] > 0.0
    assert present["e1"] > 0.0
    assert present["e2"] < 0.0
    absent = {reason.id: reason.decibans for reason in lacking.reasons}
    assert absent["e1"] < 0.0
    assert absent["e2"] > 0.0


def test_weak_absences_are_told_together() -> None:
    """Three findings that are not there count little each; a strong one stands by itself."""
    links = {(0, at): 0.2 for at in range(3)} | {(0, 3): 0.6}
    knowledge = make_network([0.2], [0.05] * 4, links)

    (found,) = explain(knowledge, make_evidence(absent=[0, 1, 2, 3]), faults=["f0"]).faults

    assert [reason.id for reason in found.reasons] == ["e3"]
    (group,) = found.absences
    assert group.findings == ("e0", "e1", "e2")
    assert group.decibans == pytest.approx(30.0 * math.log10(0.8))
    assert found.together_decibans == pytest.approx(0.0, abs=1e-9)


def test_a_single_weak_absence_stands_by_itself() -> None:
    """A group of one would hide its name."""
    knowledge = make_network([0.2], [0.05], {(0, 0): 0.2})

    (found,) = explain(knowledge, make_evidence(absent=[0]), faults=["f0"]).faults

    assert [reason.id for reason in found.reasons] == ["e0"]
    assert found.absences == ()


def test_silence_is_one_reason() -> None:
    """All that a written report does not mention weighs as one piece."""
    knowledge = make_network([0.2], [0.05] * 3, {(0, 0): 0.8, (0, 1): 0.5, (0, 2): 0.9})

    (found,) = explain(knowledge, make_evidence(present=[0], telling=0.5), faults=["f0"]).faults

    weights = {(reason.kind, reason.id): reason.decibans for reason in found.reasons}
    silence = 10.0 * math.log10((1.0 - 0.5 * 0.5) * (1.0 - 0.5 * 0.9))
    assert weights["silence", ""] == pytest.approx(silence)
    assert len(weights) == 2


def test_a_material_that_rules_out_a_rival_is_a_reason() -> None:
    """With the rival impossible the finding must come from the other fault."""
    rival = make_fault("f1", prior=0.3, never_materials=("M",))
    knowledge = build_knowledge(
        faults=[make_fault("f0"), rival],
        findings=[make_finding("e0")],
        links=[Link("f0", "e0", 0.6, "memory"), Link("f1", "e0", 0.9, "memory")],
        materials=[Material("M", "M", "MEX", ("m",), "memory")],
    )
    evidence = make_evidence(present=[0], material="M")

    (found,) = explain(knowledge, evidence, faults=["f0"]).faults

    kinds = {reason.kind: reason.decibans for reason in found.reasons}
    assert kinds["material"] > 1.0


def test_a_posterior_at_hand_is_used() -> None:
    """The result is the same as without it."""
    evidence = make_evidence(present=[0], absent=[1])
    posterior = compute_posterior(make_case(), evidence)

    with_it = explain(make_case(), evidence, faults=["f0"], posterior=posterior)

    assert with_it == explain(make_case(), evidence, faults=["f0"])


def test_an_unknown_fault_is_refused_with_the_nearest() -> None:
    """The message names the nearest fault."""
    with pytest.raises(UnknownIdError, match="unknown fault 'f2'; the nearest valid name is"):
        explain(make_case(), make_evidence(), faults=["f2"])


def test_text_as_a_whole_is_one_reason_with_its_share() -> None:
    """Its weight for a fault is what the posterior loses without it."""
    knowledge = make_case()
    evidence = replace(make_evidence(present=[0]), text={"f0": -0.7, "f1": 1.1})
    (reasons,) = explain(knowledge, evidence, faults=["f1"]).faults

    (told,) = [reason for reason in reasons.reasons if reason.kind == "text"]

    after = compute_posterior(knowledge, evidence).chances["f1"]
    before = compute_posterior(knowledge, replace(evidence, text={})).chances["f1"]
    assert (told.id, told.state) == ("", "present")
    assert told.decibans == pytest.approx(decibans(after) - decibans(before))
