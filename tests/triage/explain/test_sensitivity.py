"""Slopes and sensitivities against networks in which the number really was changed."""

import math

import pytest
from hypothesis import given

from tests.triage.mixed_cases import DrawnCase, cases, with_number
from tests.triage.networks import make_evidence, make_network
from tests.triage.strategies import PATIENT
from triage.errors import UnknownIdError
from triage.explain import Sensitivity, rank_sensitivities
from triage.inference import Posterior, compute_posterior, list_slopes
from triage.knowledge import Risk

ALL = 1000  # more numbers than any of the networks has
CLOSE = 1e-9


def with_odds(value: float, factor: float) -> float:
    """Return a probability with its odds multiplied."""
    return value * factor / (1.0 - value + value * factor)


def posterior_at(drawn: DrawnCase, found: Sensitivity, value: float) -> Posterior:
    """Return the posterior in the network with this value of the number."""
    other = with_number(drawn.knowledge, found.kind, found.fault, found.subject, value)
    return compute_posterior(other, drawn.evidence)


def moved(found: Sensitivity, factor: float) -> float:
    """Return the number with its odds, or a ratio itself, multiplied."""
    return found.value * factor if found.kind == "risk" else with_odds(found.value, factor)


@pytest.mark.source("castillo1997")
@given(cases())
@PATIENT
def test_slopes_are_those_of_a_network_with_another_number(drawn: DrawnCase) -> None:
    """P(evidence, fault) / P(evidence) is as two values and two slopes have it, far away too."""
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)
    faults = ("f0", "f2", "f3")

    slopes = list_slopes(drawn.knowledge, drawn.evidence, posterior, faults, least=0.0)

    for slope in slopes:
        raw = drawn.knowledge.faults[slope.fault].prior if slope.kind == "prior" else slope.value
        for factor in (0.01, 30.0):
            step = with_odds(slope.value, factor) - slope.value
            other = with_number(
                drawn.knowledge, slope.kind, slope.fault, slope.subject, with_odds(raw, factor)
            )
            after = compute_posterior(other, drawn.evidence).chances
            expected = [
                (posterior.chances[fault] + by * step) / (1.0 + slope.by[0] * step)
                for fault, by in zip(faults, slope.by[1:].tolist(), strict=True)
            ]
            assert [after[fault] for fault in faults] == pytest.approx(expected, abs=CLOSE)


@given(cases())
@PATIENT
def test_every_number_that_is_not_listed_changes_nothing(drawn: DrawnCase) -> None:
    """Links, leaks and cure rates without a slope may be anything."""
    knowledge = drawn.knowledge
    posterior = compute_posterior(knowledge, drawn.evidence)
    slopes = list_slopes(knowledge, drawn.evidence, posterior, ("f0",), least=0.0)
    listed = {(slope.kind, slope.fault, slope.subject) for slope in slopes}
    numbers = [("link", link.fault, link.finding) for link in knowledge.links]
    numbers += [("leak", "", finding) for finding in knowledge.findings]
    numbers += [("cure", fault, "a0") for fault in knowledge.actions["a0"].cures]

    for kind, fault, subject in {*numbers} - listed:
        other = with_number(knowledge, kind, fault, subject, 0.5)
        after = compute_posterior(other, drawn.evidence).chances
        assert after == pytest.approx(dict(posterior.chances), abs=CLOSE)


@pytest.mark.source("laskey1995")
@given(cases())
@PATIENT
def test_halved_and_doubled_odds_give_the_probabilities_recomputed(drawn: DrawnCase) -> None:
    """Priors, links, leaks, cure rates and risks: each changed alone, all else computed anew."""
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)

    numbers = rank_sensitivities(
        drawn.knowledge, posterior, "f0", evidence=drawn.evidence, limit=ALL
    )

    for found in numbers:
        for factor, chance in ((0.5, found.halved), (2.0, found.doubled)):
            after = posterior_at(drawn, found, moved(found, factor))
            assert after.chances["f0"] == pytest.approx(chance, abs=CLOSE)
    swings = [abs(found.doubled - found.halved) for found in numbers]
    assert swings == sorted(swings, reverse=True)


@given(cases())
@PATIENT
def test_slope_is_the_finite_difference_of_log_odds(drawn: DrawnCase) -> None:
    """A little more and a little less log-odds of the number, and what the fault's do."""
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)
    little = 1e-4

    for found in rank_sensitivities(drawn.knowledge, posterior, "f0", evidence=drawn.evidence):
        above, below = (
            posterior_at(drawn, found, moved(found, math.exp(sign * little))).chances["f0"]
            for sign in (1.0, -1.0)
        )
        change = math.log(above / (1.0 - above)) - math.log(below / (1.0 - below))
        assert found.slope == pytest.approx(change / (2.0 * little), abs=1e-5)


@pytest.mark.source("coupe2002")
@given(cases())
@PATIENT
def test_the_leader_changes_where_a_number_is_said_to_tip(drawn: DrawnCase) -> None:
    """Just before that value the leader leads, just beyond it the rival named does."""
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)
    leader = posterior.ranked[0].id

    for found in rank_sensitivities(drawn.knowledge, posterior, leader, evidence=drawn.evidence):
        if found.tips_at is None or found.tips_to is None:
            for factor in (1e-3, 0.3, 3.0, 1e3):
                after = posterior_at(drawn, found, moved(found, factor)).chances
                assert after[leader] >= max(after.values()) - CLOSE
            continue
        after = posterior_at(drawn, found, found.tips_at).chances
        assert after[leader] == pytest.approx(after[found.tips_to], abs=1e-7)
        assert max(after.values()) == pytest.approx(after[leader], abs=1e-7)


def test_a_number_of_each_kind_is_named_with_its_source() -> None:
    """Value and source are those of the knowledge; a prior is not the shifted one."""
    knowledge = make_network(
        [0.2, 0.1],
        [0.05],
        {(0, 0): 0.8},
        risks=[Risk("r0", "Risk", "Is it so?", "MEX", {"f0": 4.0}, "common-practice")],
    )
    evidence = make_evidence(present=[0], risks=("r0",))

    numbers = rank_sensitivities(
        knowledge, compute_posterior(knowledge, evidence), "f0", evidence=evidence
    )

    told = {(n.kind, n.fault, n.subject): (n.value, n.source) for n in numbers}
    assert told == {
        ("prior", "f0", ""): (0.2, "memory"),
        ("risk", "f0", "r0"): (4.0, "common-practice"),
        ("link", "f0", "e0"): (0.8, "memory"),
        ("leak", "", "e0"): (0.05, "memory"),
        ("prior", "f1", ""): (0.1, "memory"),
    }
    slopes = {(n.kind, n.fault): n.slope for n in numbers}
    # Odds of the prior enter the odds of the posterior as they are; another fault's do not.
    assert slopes["prior", "f0"] == pytest.approx(1.0)
    assert slopes["risk", "f0"] == pytest.approx(1.0)
    assert slopes["prior", "f1"] == pytest.approx(0.0)


def test_what_is_silent_counts_only_with_the_evidence() -> None:
    """Links to findings a report does not mention are looked at where the evidence is given."""
    knowledge = make_network([0.2], [0.05], {(0, 0): 0.8})
    evidence = make_evidence(telling=0.5)
    posterior = compute_posterior(knowledge, evidence)

    kinds = [
        [number.kind for number in rank_sensitivities(knowledge, posterior, "f0", evidence=given)]
        for given in (None, evidence)
    ]

    assert kinds == [["prior"], ["prior", "link"]]


def test_a_risk_of_a_fault_that_cannot_be_has_no_effect() -> None:
    """Its odds on other faults are listed all the same."""
    risk = Risk("r0", "Risk", "Is it so?", "MEX", {"f0": 4.0, "f1": 2.0}, "memory")
    knowledge = make_network([0.2, 0.0], [], {}, risks=[risk])
    evidence = make_evidence(risks=("r0",))

    numbers = rank_sensitivities(
        knowledge, compute_posterior(knowledge, evidence), "f0", evidence=evidence
    )

    assert [(n.kind, n.fault) for n in numbers] == [("prior", "f0"), ("risk", "f0")]


def test_numbers_of_improbable_faults_are_passed_over() -> None:
    """Of a ninth fault of one in ten thousand nothing is listed, linked to a finding or not."""
    priors = [0.1] * 8 + [1e-4, 1e-4]
    links = {(fault, 0): 0.5 for fault in range(9)} | {(fault, 1): 0.3 for fault in range(9)}
    knowledge = make_network(priors, [0.05, 0.05], links)
    posterior = compute_posterior(knowledge, make_evidence(present=[0], absent=[1]))

    numbers = rank_sensitivities(knowledge, posterior, "f0", limit=ALL)

    assert {n.fault for n in numbers} == {"", *(f"f{fault}" for fault in range(8))}


def test_numbers_of_the_fault_asked_about_are_never_passed_over() -> None:
    """A fault of one in a thousand still has its numbers."""
    knowledge = make_network([0.5, 0.001], [0.05, 0.05], {(0, 0): 0.8, (1, 1): 0.7})

    posterior = compute_posterior(knowledge, make_evidence(present=[0], absent=[1]))

    numbers = rank_sensitivities(knowledge, posterior, "f1")
    assert {(number.kind, number.fault) for number in numbers[:2]} == {
        ("prior", "f1"),
        ("link", "f1"),
    }


def test_certain_numbers_and_faults_are_answered() -> None:
    """Odds of 0 and 1 cannot be halved; a certain fault has no slope; nothing fails."""
    knowledge = make_network([1.0, 0.0, 0.3], [0.0, 0.1], {(0, 0): 1.0, (2, 0): 1.0, (2, 1): 0.5})
    posterior = compute_posterior(knowledge, make_evidence(present=[0], absent=[1]))

    numbers = rank_sensitivities(knowledge, posterior, "f0")

    assert {(n.halved, n.doubled, n.slope) for n in numbers} == {(1.0, 1.0, 0.0)}
    assert {n.tips_at for n in numbers} == {None}


def test_a_leak_that_alone_explains_a_finding_tips_nothing() -> None:
    """Whatever it is, the finding says nothing; at 0 the evidence could not be."""
    knowledge = make_network([0.5, 0.4], [0.015625], {})
    posterior = compute_posterior(knowledge, make_evidence(present=[0], process=None))

    numbers = rank_sensitivities(knowledge, posterior, "f0")

    assert [n.tips_at for n in numbers if n.kind == "leak"] == [None]


def test_a_network_without_uncertain_numbers_has_none_to_rank() -> None:
    """One fault, always there, nothing seen."""
    knowledge = make_network([1.0], [0.0], {})

    assert rank_sensitivities(knowledge, compute_posterior(knowledge, make_evidence()), "f0") == ()


def test_sensitivity_of_an_unknown_fault_is_refused() -> None:
    """The nearest valid name is in the message."""
    knowledge = make_network([0.5], [0.05], {(0, 0): 0.5})

    with pytest.raises(UnknownIdError, match="unknown fault 'f00'; the nearest valid name is 'f0'"):
        rank_sensitivities(knowledge, compute_posterior(knowledge, make_evidence()), "f00")
