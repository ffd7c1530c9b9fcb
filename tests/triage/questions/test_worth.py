"""What answers save, against listing all sets of faults and all orders of remedies."""

from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.triage.networks import make_action, make_evidence, make_network
from tests.triage.questions.listed import value_of
from tests.triage.strategies import PATIENT
from triage.evidence import Evidence
from triage.inference import compute_answer_effects, compute_posterior
from triage.knowledge import Knowledge
from triage.previews import marginal_gains
from triage.questions import KeptPlan, answer_values, rank_questions
from triage.repair import LAST_RESORT_MINUTES


def values_of(knowledge: Knowledge, evidence: Evidence, findings: list[str]) -> list[float]:
    """Return what the answers save."""
    plan = KeptPlan.of(knowledge, compute_posterior(knowledge, evidence), evidence)
    return [float(value) for value in answer_values(knowledge, plan, findings)]


@st.composite
def cases(draw: st.DrawFn, faults: int) -> tuple[Knowledge, Evidence]:
    """Return a network of some faults, four findings and a remedy for each, e3 seen."""
    chance = st.floats(0.1, 0.5)
    links = {
        (fault, finding): draw(st.floats(0.2, 0.9))
        for fault in range(faults)
        for finding in range(4)
        if draw(st.booleans())
    }
    actions = [
        make_action(
            f"a{at}", minutes=draw(st.floats(2.0, 90.0)), cures={f"f{at}": draw(st.floats(0.3, 1))}
        )
        for at in range(faults)
    ]
    network = make_network(
        [draw(chance) for _ in range(faults)], [0.05] * 4, links, actions=actions
    )
    seen = {"present": (3,)} if draw(st.booleans()) else {"absent": (3,)}
    return network, make_evidence(**seen)  # type: ignore[arg-type]


@given(cases(2))
@PATIENT
def test_value_with_two_faults_is_that_of_the_listing(case: tuple[Knowledge, Evidence]) -> None:
    """The belief holds the whole joint of two faults, so the value is that of brute force.

    With one remedy for each fault the order by success over cost is the cheapest of all, but
    for rounding in what is nearly a tie.
    """
    knowledge, evidence = case
    findings = ["e0", "e1", "e2"]

    found = values_of(knowledge, evidence, findings)

    for name, value in zip(findings, found, strict=True):
        expected = value_of(knowledge, evidence, [name], LAST_RESORT_MINUTES)
        assert value == pytest.approx(expected, abs=0.01)
        assert value <= expected + 1e-6


@given(cases(4))
@PATIENT
def test_value_is_never_negative_and_nothing_without_a_link(
    case: tuple[Knowledge, Evidence],
) -> None:
    """Whatever was seen no answer costs minutes, and one that says nothing saves none."""
    knowledge, evidence = case
    findings = ["e0", "e1", "e2"]
    linked = {link.finding for link in knowledge.links}

    for name, value in zip(findings, values_of(knowledge, evidence, findings), strict=True):
        assert value >= 0.0
        assert name in linked or value == 0.0


def draw_cases(count: int) -> Iterator[tuple[Knowledge, Evidence, list[str]]]:
    """Yield networks of six faults, ten findings and four overlapping remedies, five seen."""
    generator = np.random.default_rng(20)
    for _ in range(count):
        links = {
            (fault, finding): generator.uniform(0.2, 0.9)
            for fault in range(6)
            for finding in range(10)
            if generator.random() < 0.3
        }
        actions = [
            make_action(
                f"a{at}",
                minutes=float(generator.uniform(2.0, 60.0)),
                cures={
                    f"f{fault}": float(generator.uniform(0.3, 0.95))
                    for fault in generator.choice(6, 2, replace=False)
                },
            )
            for at in range(4)
        ]
        knowledge = make_network(
            generator.uniform(0.03, 0.3, 6).tolist(), [0.03] * 10, links, actions=actions
        )
        there = generator.random(6) < knowledge.network.prior
        absent = 0.97 * np.where(there[:, None], 1.0 - knowledge.network.link, 1.0).prod(axis=0)
        is_so = generator.random(10) >= absent
        # What shows is told; two more looks are chosen blindly.
        told = np.flatnonzero(is_so)[:3]
        seen = sorted({*told.tolist(), *generator.choice(10, 2, replace=False).tolist()})
        evidence = make_evidence(
            present=[at for at in seen if is_so[at]], absent=[at for at in seen if not is_so[at]]
        )
        yield knowledge, evidence, [f"e{at}" for at in range(10) if at not in seen]


def test_the_question_chosen_saves_nearly_what_the_best_would() -> None:
    """In drawn cases its true value is within a twentieth of the best; what tells most saves less.

    True values come from listing all sets of faults and all orders of remedies.
    """
    by_value, by_bits = [], []
    for knowledge, evidence, unseen in draw_cases(40):
        truth = [value_of(knowledge, evidence, [name], LAST_RESORT_MINUTES) for name in unseen]
        if max(truth) < 0.5:
            continue
        effects = compute_answer_effects(knowledge, compute_posterior(knowledge, evidence), unseen)
        best = int(np.argmax(values_of(knowledge, evidence, unseen)))
        by_value.append(truth[best] / max(truth))
        by_bits.append(truth[int(marginal_gains(effects).argmax())] / max(truth))

    assert len(by_value) >= 15
    assert np.mean(by_value) >= 0.95
    assert np.mean(by_value) > np.mean(by_bits)


def test_an_answer_that_changes_no_step_saves_nothing() -> None:
    """With a single remedy to choose from, knowing more changes nothing."""
    knowledge = make_network(
        [0.9], [0.05], {(0, 0): 0.5}, actions=[make_action("a0", minutes=5.0, cures={"f0": 0.9})]
    )
    posterior = compute_posterior(knowledge, make_evidence())

    question = rank_questions(knowledge, make_evidence(), posterior)[0]

    assert question.gain_minutes == pytest.approx(0.0)
    assert question.gain_bits > 0.0
    assert not question.pays
