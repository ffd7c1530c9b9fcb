"""What would put another fault first, each recomputed with the finding set."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given

from tests.triage.draws import Habits, draw_cases
from tests.triage.mixed_cases import DrawnCase, cases, with_finding
from tests.triage.networks import make_action, make_evidence, make_network
from tests.triage.strategies import PATIENT
from triage.evidence import Observation, TriedRemedy, TriedResult
from triage.explain import SLIP, explain
from triage.inference import LUCK, compute_answer_effects, compute_posterior
from triage.knowledge import Knowledge, Risk, load_knowledge
from triage.previews import list_candidates

LINKS = {(0, 0): 0.8, (0, 1): 0.6, (1, 2): 0.7}
CERTAIN = {"present": (1.0, 0.0), "absent": (0.0, 1.0)}
OPPOSITE = {"present": (0.0, 1.0), "absent": (1.0, 0.0)}
UNDONE: dict[str, TriedResult] = {
    "no-change": "cured",
    "cured": "no-change",
    "helped": "no-change",
}


def make_case() -> Knowledge:
    """Return two faults, three findings, one risk and one remedy."""
    return make_network(
        [0.2, 0.1],
        [0.05, 0.02, 0.1],
        LINKS,
        actions=[make_action("a0", cures={"f0": 0.9})],
        risks=[Risk("r0", "Risk", "Is it so?", "MEX", {"f0": 4.0}, "memory")],
    )


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


@given(cases())
@PATIENT
def test_changes_are_what_the_answer_would_do(drawn: DrawnCase) -> None:
    """With the answer set surely, the fault named leads with the probability named."""
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)
    leader = posterior.ranked[0].id

    changes = explain(drawn.knowledge, drawn.evidence, faults=[]).changes

    for change in changes:
        given_answer = with_finding(drawn.evidence, change.finding, CERTAIN[change.answer])
        not_silent = with_finding(drawn.evidence, change.finding, (1.0, 1.0))
        if drawn.evidence.telling == 0.0:
            open_still = compute_posterior(drawn.knowledge, not_silent)
            after = compute_posterior(drawn.knowledge, given_answer)
            chance = math.exp(after.log_evidence - open_still.log_evidence)
            assert change.chance == pytest.approx(chance, abs=1e-9)
            assert change.probability == pytest.approx(after.chances[change.leader], abs=1e-8)
            assert change.left == pytest.approx(after.chances[leader], abs=1e-8)
            assert after.chances[change.leader] > after.chances[leader]
        assert change.before == pytest.approx(posterior.chances[change.leader])
        assert change.leader != leader
    assert [c.chance for c in changes] == sorted((c.chance for c in changes), reverse=True)


@pytest.mark.parametrize("habits", [Habits(looked=4, doubtful=2), Habits(looked=12, doubtful=4)])
def test_the_likeliest_changes_of_the_knowledge_are_all_found(habits: Habits) -> None:
    """The screen loses none of the first three among all open findings, worked out exactly."""
    knowledge = load_knowledge()
    named, wanted = [], []
    for case in draw_cases(knowledge, 11, 12, habits):
        posterior = compute_posterior(knowledge, case.evidence)
        names = list_candidates(knowledge, case.evidence, posterior)
        effects = compute_answer_effects(knowledge, posterior, names)
        lead = int(effects.now.argmax())
        chances = [
            chance
            for present, rows in (
                (effects.present, effects.if_present),
                (1.0 - effects.present, effects.if_absent),
            )
            for chance, row in zip(present.tolist(), rows, strict=True)
            if chance >= 0.02 and int(row.argmax()) != lead
        ]
        wanted.append(sorted(chances, reverse=True)[:3])
        changes = explain(knowledge, case.evidence, faults=[], posterior=posterior).changes
        named.append([change.chance for change in changes])

    assert sum(map(len, wanted)) > len(wanted)
    for found, expected in zip(named, wanted, strict=True):
        assert found == pytest.approx(expected)


@given(cases())
@PATIENT
def test_doubts_are_what_the_opposite_would_do(drawn: DrawnCase) -> None:
    """With the finding turned round, the fault named leads with the probability named."""
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)
    leader = posterior.ranked[0].id

    doubts = explain(drawn.knowledge, drawn.evidence, faults=[]).doubts

    for doubt in doubts:
        if doubt.kind == "tried":
            turned = replace(drawn.evidence, tried=(TriedRemedy("a0", UNDONE[doubt.state]),))
        else:
            turned = with_finding(drawn.evidence, doubt.id, OPPOSITE[doubt.state])
        after = compute_posterior(drawn.knowledge, turned).chances
        assert doubt.probability == pytest.approx(after[doubt.leader], abs=1e-7)
        assert doubt.left == pytest.approx(after[leader], abs=1e-7)
        assert doubt.before == pytest.approx(posterior.chances[doubt.leader])
        assert after[doubt.leader] == pytest.approx(max(after.values()), abs=1e-7)
    assert [d.chance for d in doubts] == sorted((d.chance for d in doubts), reverse=True)


def test_a_doubtful_look_is_doubted_as_its_pair_has_it() -> None:
    """The chance of the opposite is its posterior, worked out with a twin of the finding."""
    knowledge = make_network([0.2, 0.1], [0.01, 0.01], {(0, 0): 0.9, (1, 1): 0.9, (1, 0): 0.2})
    evidence = make_evidence(soft={0: (0.9, 0.1)})

    (doubt,) = explain(knowledge, evidence, faults=[]).doubts

    # P(absent before the look) = 0.99·(1 - 0.2·0.9)·(1 - 0.1·0.2), times what the look says.
    absent = 0.99 * 0.82 * 0.98
    expected = 0.1 * absent / (0.1 * absent + 0.9 * (1.0 - absent))
    assert (doubt.kind, doubt.id, doubt.state, doubt.leader) == ("finding", "e0", "present", "f1")
    assert doubt.chance == pytest.approx(expected)


def test_a_sure_look_is_wrong_once_in_fifty() -> None:
    """It stays sure for the posterior; as a doubt it is weighed with a slip."""
    knowledge = make_network([0.2, 0.1], [0.01, 0.01], {(0, 0): 0.9, (1, 1): 0.9, (1, 0): 0.2})

    (doubt,) = explain(knowledge, make_evidence(present=[0]), faults=[]).doubts

    absent = 0.99 * 0.82 * 0.98
    expected = SLIP * absent / (SLIP * absent + (1.0 - SLIP) * (1.0 - absent))
    assert doubt.chance == pytest.approx(expected)


def test_a_remedy_that_changed_nothing_may_be_doubted() -> None:
    """Had it cured, the fault it cures would lead: perhaps it was not done well."""
    knowledge = make_network([0.5, 0.3], [0.05], {}, actions=[make_action(cures={"f0": 0.9})])
    evidence = make_evidence(tried=(TriedRemedy("a0", "no-change"),))

    (doubt,) = explain(knowledge, evidence, faults=[]).doubts

    assert (doubt.kind, doubt.id, doubt.state, doubt.leader) == ("tried", "a0", "no-change", "f0")
    cured = 1.0 - (1.0 - LUCK) * (1.0 - 0.5 * 0.9)
    expected = SLIP * cured / (SLIP * cured + (1.0 - SLIP) * (1.0 - cured))
    assert doubt.chance == pytest.approx(expected)


def test_what_cannot_be_otherwise_is_not_doubted() -> None:
    """A finding with a leak of 1 is there whatever was seen; a second look is doubted."""
    links = {(0, 0): 0.5, (0, 1): 0.9, (1, 0): 0.5}
    knowledge = make_network([0.2, 0.1], [1.0, 0.01], links)

    doubts = explain(
        knowledge, make_evidence(soft={0: (0.8, 0.3), 1: (0.7, 0.4)}), faults=[]
    ).doubts

    assert [doubt.id for doubt in doubts] == ["e1"]


def test_looks_that_nothing_contradicts_are_not_doubted() -> None:
    """The leader's other sign makes the first one all but sure, whatever would follow."""
    knowledge = make_network([0.5, 0.1], [1e-6, 1e-6], {(0, 0): 0.99, (0, 1): 0.99})

    explanation = explain(knowledge, make_evidence(present=[0, 1]), faults=[])

    assert explanation.doubts == ()


def test_changes_name_both_faults_before_and_after() -> None:
    """An open finding decides between two rivals."""
    knowledge = make_network([0.2, 0.1], [0.01, 0.01], {(0, 0): 0.9, (1, 1): 0.9, (1, 0): 0.2})
    evidence = make_evidence(soft={0: (0.9, 0.1)})
    now = compute_posterior(knowledge, evidence).chances

    (change,) = explain(knowledge, evidence, faults=[]).changes

    more = (*evidence.observations, Observation("e1", "present"))
    then = compute_posterior(knowledge, replace(evidence, observations=more)).chances
    assert (change.finding, change.answer, change.leader) == ("e1", "present", "f1")
    found = np.array([change.before, change.probability, change.left])
    assert found == pytest.approx([now["f1"], then["f1"], then["f0"]])
