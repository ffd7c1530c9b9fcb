"""Slopes and sensitivities against networks in which the number really was changed."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.triage.networks import make_action, make_evidence, make_network
from triage.errors import UnknownIdError
from triage.evidence import Evidence, Observation, TriedRemedy
from triage.explain import explain, rank_sensitivities
from triage.inference import compute_posterior, compute_variants, list_slopes
from triage.knowledge import Knowledge, build_knowledge

ACTION = make_action("a0", cures={"f0": 0.7, "f1": 0.4})
EVIDENCE = replace(
    make_evidence(present=(0, 1), absent=(2,), soft={3: (0.8, 0.3)}),
    tried=(TriedRemedy("a0", "no-change"),),
)


@st.composite
def networks(draw: st.DrawFn) -> Knowledge:
    """Return a network of four faults and four findings, with a remedy."""
    chance = st.floats(0.05, 0.9)
    links = {
        (fault, finding): draw(chance)
        for fault in range(4)
        for finding in range(4)
        if draw(st.booleans())
    }
    priors = [draw(st.floats(0.02, 0.5)) for _ in range(4)]
    return make_network(
        priors, [draw(st.floats(0.01, 0.2)) for _ in range(4)], links, actions=[ACTION]
    )


def changed(knowledge: Knowledge, kind: str, fault: str, subject: str, value: float) -> Knowledge:
    """Return the network with one number put to another value."""
    change: Callable[..., object] = replace
    return build_knowledge(
        faults=[
            change(entry, prior=value) if (kind, entry.id) == ("prior", fault) else entry
            for entry in knowledge.faults.values()
        ],
        findings=[
            change(entry, leak=value) if (kind, entry.id) == ("leak", subject) else entry
            for entry in knowledge.findings.values()
        ],
        links=[
            change(link, p=value)
            if (kind, link.fault, link.finding) == ("link", fault, subject)
            else link
            for link in knowledge.links
        ],
        actions=[
            change(entry, cures={**entry.cures, fault: value})
            if (kind, entry.id) == ("cure", subject)
            else entry
            for entry in knowledge.actions.values()
        ],
    )


@given(networks())
@settings(max_examples=30, deadline=None)
def test_slopes_are_those_of_a_network_with_another_number(knowledge: Knowledge) -> None:
    """P(evidence) and P(evidence, fault) are linear in each number: one other value tells all."""
    posterior = compute_posterior(knowledge, EVIDENCE)
    chances = posterior.chances

    slopes = list_slopes(knowledge, posterior, ("f0", "f1"), least=0.0)

    assert {slope.kind for slope in slopes} >= {"prior", "cure"}
    for slope in slopes:
        value = min(0.95, slope.value + 0.04)
        step = value - slope.value
        other = changed(knowledge, slope.kind, slope.fault, slope.subject, value)
        after = compute_posterior(other, EVIDENCE)
        total = np.exp(after.log_evidence - posterior.log_evidence)
        expected = [total - 1.0] + [
            after.chances[fault] * total - chances[fault] for fault in ("f0", "f1")
        ]
        assert slope.by * step == pytest.approx(expected, abs=1e-9)


@pytest.mark.source("laskey1995")
@given(networks())
@settings(max_examples=20, deadline=None)
def test_sensitivities_are_posteriors_with_the_odds_of_the_number_changed(
    knowledge: Knowledge,
) -> None:
    """Halved and doubled odds, and the value at which the rival draws level, all recomputed."""
    posterior = compute_posterior(knowledge, EVIDENCE)
    leader, rival = posterior.ranked[0].id, posterior.ranked[1].id

    for found in rank_sensitivities(knowledge, posterior, leader):
        for factor, chance in ((0.5, found.halved), (2.0, found.doubled)):
            value = found.value * factor / (1.0 - found.value + found.value * factor)
            other = changed(knowledge, found.kind, found.fault, found.subject, value)
            assert compute_posterior(other, EVIDENCE).chances[leader] == pytest.approx(chance)
        if found.tips_at is not None:
            other = changed(knowledge, found.kind, found.fault, found.subject, found.tips_at)
            after = compute_posterior(other, EVIDENCE).chances
            assert after[leader] == pytest.approx(after[rival], abs=1e-7)


@given(networks())
@settings(max_examples=30, deadline=None)
def test_variants_are_posteriors_of_the_evidence_without_the_piece(knowledge: Knowledge) -> None:
    """Every piece left out alone, and every finding turned into its opposite, recomputed."""
    posterior = compute_posterior(knowledge, EVIDENCE)

    variants = compute_variants(knowledge, EVIDENCE, posterior)

    for at, piece in enumerate(variants.pieces):
        rest = _without(piece.kind, piece.id)
        expected = list(compute_posterior(knowledge, rest).chances.values())
        assert variants.without[at] == pytest.approx(expected)
        opposite = variants.opposite(at) if piece.kind == "finding" and piece.pair else None
        if opposite is None or opposite.chances is None or piece.pair is None:
            continue
        state = "absent" if piece.pair[0] > piece.pair[1] else "present"
        turned = replace(rest, observations=(*rest.observations, Observation(piece.id, state)))  # type: ignore[arg-type]
        expected = list(compute_posterior(knowledge, turned).chances.values())
        assert opposite.chances == pytest.approx(expected, abs=1e-7)


def _without(kind: str, name: str) -> Evidence:
    if kind == "tried":
        return replace(EVIDENCE, tried=())
    observations = tuple(seen for seen in EVIDENCE.observations if seen.finding != name)
    return replace(EVIDENCE, observations=observations)


def test_changes_and_doubts_name_who_would_lead() -> None:
    """Two rivals: the open finding and the one seen each decide who leads."""
    knowledge = make_network([0.2, 0.1], [0.01, 0.01], {(0, 0): 0.9, (1, 1): 0.9, (1, 0): 0.2})
    evidence = make_evidence(soft={0: (0.9, 0.1)})
    posterior = compute_posterior(knowledge, evidence)

    found = explain(knowledge, evidence, faults=["f0"])

    (change,) = found.changes
    assert (change.finding, change.answer, change.leader) == ("e1", "present", "f1")
    after = replace(evidence, observations=(*evidence.observations, Observation("e1", "present")))
    assert change.probability == pytest.approx(compute_posterior(knowledge, after).chances["f1"])
    (doubt,) = found.doubts
    assert (doubt.finding, doubt.state, doubt.leader) == ("e0", "present", "f1")
    turned = make_evidence(absent=(0,))
    assert doubt.probability == pytest.approx(compute_posterior(knowledge, turned).chances["f1"])
    assert 0.0 < doubt.chance < 0.5
    assert posterior.ranked[0].id == "f0"


@pytest.mark.source("good1950")
def test_weights_and_prior_add_up_when_pieces_do_not_explain_each_other() -> None:
    """Prior and independent weights, in decibans, give the posterior; tenfold odds are 10."""
    knowledge = make_network([0.5], [0.05, 0.05], {(0, 0): 0.5, (0, 1): 0.4})

    (reasons,) = explain(knowledge, make_evidence(present=(0,), absent=(1,)), faults=["f0"]).faults

    assert reasons.prior_decibans == pytest.approx(0.0)
    weights = sum(reason.decibans for reason in reasons.reasons)
    assert reasons.posterior_decibans == pytest.approx(reasons.prior_decibans + weights)
    assert reasons.together_decibans == pytest.approx(0.0, abs=1e-9)
    # 0.525 against 0.05: ten and a half times the odds.
    assert reasons.reasons[0].decibans == pytest.approx(10.0 * np.log10(10.5))


def test_sensitivity_of_an_unknown_fault_is_refused() -> None:
    """The nearest valid name is in the message."""
    knowledge = make_network([0.5], [0.05], {(0, 0): 0.5})

    with pytest.raises(UnknownIdError, match="f0"):
        rank_sensitivities(knowledge, compute_posterior(knowledge, make_evidence()), "f00")
