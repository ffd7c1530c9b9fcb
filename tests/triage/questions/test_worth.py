"""What answers save: against listing all sets of faults, and who can be asked."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.triage.networks import make_action, make_evidence, make_fault, make_finding, make_network
from triage.errors import OutOfRangeError, UnknownIdError
from triage.evidence import Evidence, Observation
from triage.inference import compute_answer_effects, compute_posterior
from triage.knowledge import Knowledge, Link, build_knowledge
from triage.questions import (
    KeptPlan,
    Respondent,
    answer_values,
    check_respondent,
    choose_batch,
    rank_questions,
)
from triage.repair import as_independent, evaluate_order, find_order, open_remedies

ACTIONS = (
    make_action("a0", minutes=30.0, cures={"f0": 0.9}),
    make_action("a1", minutes=25.0, cures={"f1": 0.9}),
    make_action("a2", minutes=5.0, cures={"f2": 0.6, "f0": 0.2}),
)


@st.composite
def cases(draw: st.DrawFn) -> tuple[Knowledge, Evidence]:
    """Return a network of three faults and four findings, and evidence about one of them."""
    chance = st.floats(0.02, 0.5)
    priors = [draw(chance) for _ in range(3)]
    links = {
        (fault, finding): draw(st.floats(0.2, 0.95))
        for fault in range(3)
        for finding in range(4)
        if draw(st.booleans())
    }
    network = make_network(priors, [0.05] * 4, links, actions=ACTIONS)
    seen = {"present": (3,)} if draw(st.booleans()) else {"absent": (3,)}
    return network, make_evidence(**seen)  # type: ignore[arg-type]


@given(cases())
@settings(max_examples=60, deadline=None)
def test_value_is_what_the_changed_plan_saves(case: tuple[Knowledge, Evidence]) -> None:
    """Cost of carrying on less that of the best order, under the belief after each answer."""
    knowledge, evidence = case
    posterior = compute_posterior(knowledge, evidence)
    findings = ["e0", "e1", "e2"]
    effects = compute_answer_effects(knowledge, posterior, findings)
    remedies = open_remedies(knowledge, posterior, evidence)
    last = remedies.last_resort
    now = as_independent(effects.now)
    kept = find_order(now, remedies.trials, last_resort=last)

    values = answer_values(KeptPlan.of(knowledge, posterior, evidence), effects)

    for at, value in enumerate(values.tolist()):
        expected = 0.0
        for chance, marginals in (
            (effects.present[at], effects.if_present[at]),
            (1.0 - effects.present[at], effects.if_absent[at]),
        ):
            belief = as_independent(np.nan_to_num(marginals))
            carried_on = evaluate_order(belief, remedies.trials, kept.places, last_resort=last)
            best = find_order(belief, remedies.trials, last_resort=last)
            expected += chance * (carried_on.cost - best.cost)
        # The quick price may miss the cheapest order, never undercut it.
        assert -1e-9 <= value <= expected + 1e-6


def test_an_answer_that_changes_no_step_is_worth_no_minutes() -> None:
    """With a single remedy to choose from, knowing more saves nothing but its own cost."""
    knowledge = make_network(
        [0.9], [0.05], {(0, 0): 0.5}, actions=[make_action("a0", minutes=5.0, cures={"f0": 0.9})]
    )
    posterior = compute_posterior(knowledge, make_evidence())

    question = rank_questions(knowledge, make_evidence(), posterior)[0]

    assert question.gain_minutes == pytest.approx(0.0)
    assert question.gain_bits > 0.0
    assert not question.pays


def make_choice(**overrides: object) -> Knowledge:
    """Return two rival faults with dear remedies, and findings that tell them apart."""
    return build_knowledge(
        faults=[make_fault("f0", prior=0.3), make_fault("f1", prior=0.3)],
        findings=[
            make_finding("told", leak=0.01, **overrides),
            make_finding("twin", leak=0.01),
            make_finding("other", leak=0.01),
        ],
        links=[
            Link("f0", "told", 0.999, "memory"),
            Link("f0", "twin", 0.999, "memory"),
            Link("f1", "other", 0.95, "memory"),
        ],
        actions=[
            make_action("a0", minutes=90.0, cures={"f0": 0.95}),
            make_action("a1", minutes=90.0, cures={"f1": 0.95}),
        ],
    )


def ask(knowledge: Knowledge, respondent: Respondent | None = None) -> list[str]:
    """Return the findings asked about, best first."""
    evidence = make_evidence(process=None)
    posterior = compute_posterior(knowledge, evidence)
    found = rank_questions(knowledge, evidence, posterior, respondent=respondent)
    return [question.finding for question in found]


def test_a_question_that_saves_more_than_it_costs_pays() -> None:
    """An hour and a half of needless work is worth a minute's look."""
    posterior = compute_posterior(make_choice(), make_evidence())

    best = rank_questions(make_choice(), make_evidence(), posterior)[0]

    assert best.pays
    assert best.gain_minutes > best.asking_minutes + Respondent().round_trip_minutes


@pytest.mark.parametrize(
    ("overrides", "respondent"),
    [
        ({}, Respondent(asked=frozenset({"told"}))),
        ({}, Respondent(on_photos=frozenset({"told"}))),
        ({"needs": ("calipers",)}, Respondent(refused=frozenset({"calipers"}))),
        ({"needs": ("calipers",)}, Respondent(has_print=False)),
        ({"kind": "machine"}, Respondent(has_printer=False)),
        ({"process": "VPP"}, Respondent(process="MEX")),
    ],
)
def test_nobody_is_asked_what_they_cannot_answer(
    overrides: dict[str, object], respondent: Respondent
) -> None:
    """Asked before, seen on a photo, no tool, no print, no printer, another process."""
    knowledge = build_knowledge(
        faults=[make_fault("f0", prior=0.3, process="any")],
        findings=[make_finding("told", **overrides), make_finding("else", process="any")],
        links=[Link("f0", "told", 0.9, "memory"), Link("f0", "else", 0.5, "memory")],
    )

    assert "told" in ask(knowledge, Respondent())
    assert "told" not in ask(knowledge, respondent)


def test_tools_at_hand_make_a_question_cheaper() -> None:
    """No time goes into finding what lies on the bench; a measurement counts half as much again."""
    finding = make_finding("told", kind="measure", needs=("calipers",), minutes=2.0)

    assert Respondent().own_minutes(finding) == pytest.approx(6.0)
    assert Respondent(tools=frozenset({"calipers"})).own_minutes(finding) == pytest.approx(3.0)


def test_a_plausible_danger_is_asked_about_first() -> None:
    """A dangerous finding of some probability comes before what saves more."""
    knowledge = make_choice()
    risky = build_knowledge(
        faults=[*knowledge.faults.values(), make_fault("scorch", prior=0.1)],
        findings=[*knowledge.findings.values(), make_finding("brown", danger="burn", leak=0.001)],
        links=[*knowledge.links, Link("scorch", "brown", 0.9, "memory")],
        actions=knowledge.actions.values(),
    )

    assert ask(risky)[0] == "brown"


def test_a_batch_does_not_ask_the_same_twice() -> None:
    """Two findings of the same fault say the same; the third speaks of the rival."""
    knowledge = make_choice()
    posterior = compute_posterior(knowledge, make_evidence())

    batch = choose_batch(knowledge, make_evidence(), posterior)

    findings = [entry.question.finding for entry in batch.questions]
    assert set(findings) in ({"told", "other"}, {"twin", "other"})
    assert batch.pays


@given(cases())
@settings(max_examples=30, deadline=None)
def test_a_batch_is_worth_at_least_its_first_question(case: tuple[Knowledge, Evidence]) -> None:
    """Further answers never take away, and what a batch costs is the sum of its parts."""
    knowledge, evidence = case
    posterior = compute_posterior(knowledge, evidence)

    batch = choose_batch(knowledge, evidence, posterior)

    if batch.questions:
        assert len(batch.questions) <= 3
        assert batch.gain_minutes >= batch.questions[0].question.gain_minutes - 1e-9
        own = sum(entry.question.asking_minutes for entry in batch.questions)
        assert batch.cost_minutes == pytest.approx(own + Respondent().round_trip_minutes)
        assert all(entry.added_bits > 0.0 for entry in batch.questions)


def test_nothing_to_ask_makes_an_empty_batch() -> None:
    """All looked at: an empty batch, not an error."""
    knowledge = make_network([0.3], [0.05], {(0, 0): 0.8})
    evidence = make_evidence(present=(0,))

    batch = choose_batch(knowledge, evidence, compute_posterior(knowledge, evidence))

    assert batch.questions == ()
    assert not batch.pays


def test_a_respondent_is_checked_against_the_knowledge() -> None:
    """An unknown tool or finding is named with the nearest valid one."""
    knowledge = build_knowledge(
        faults=[make_fault()],
        findings=[make_finding(needs=("calipers",))],
        links=[Link("f0", "e0", 0.5, "memory")],
    )

    with pytest.raises(UnknownIdError, match="caliper"):
        check_respondent(knowledge, Respondent(tools=frozenset({"caliper"})))
    with pytest.raises(OutOfRangeError, match="0 or more"):
        Respondent(round_trip_minutes=-1.0)


def test_a_certain_observation_is_not_asked_again() -> None:
    """What is observed is no candidate."""
    knowledge = make_choice()
    evidence = Evidence(process="MEX", observations=(Observation("told", "absent"),))

    found = rank_questions(knowledge, evidence, compute_posterior(knowledge, evidence))

    assert "told" not in [question.finding for question in found]
