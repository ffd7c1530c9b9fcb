"""Ranking of questions: what is asked, in which order, and what is left out."""

from dataclasses import replace

import numpy as np
import pytest

from tests.triage.networks import (
    make_action,
    make_evidence,
    make_fault,
    make_finding,
    make_network,
)
from tests.triage.questions.rivals import make_rivals
from triage.evidence import Evidence, Observation
from triage.inference import compute_answer_effects, compute_posterior
from triage.knowledge import Knowledge, Link, build_knowledge
from triage.previews import (
    BATCH_CELLS,
    LEAST_CANDIDATES,
    MOST_CANDIDATES,
    TOOL_MINUTES,
    marginal_gains,
    screen_gains,
)
from triage.questions import Question, Respondent, rank_questions


def ask(knowledge: Knowledge, evidence: Evidence, **options: object) -> tuple[Question, ...]:
    """Return the questions for a case."""
    posterior = compute_posterior(knowledge, evidence)
    return rank_questions(knowledge, evidence, posterior, **options)  # type: ignore[arg-type]


def asked(knowledge: Knowledge, evidence: Evidence, **options: object) -> list[str]:
    """Return the findings asked about, in order."""
    return [question.finding for question in ask(knowledge, evidence, **options)]


def make_pair(**overrides: object) -> Knowledge:
    """Return one fault with two equally telling findings, the second one changed."""
    return build_knowledge(
        faults=[make_fault("f0", prior=0.3)],
        findings=[make_finding("e0"), make_finding("e1", **overrides)],
        links=[Link("f0", "e0", 0.8, "memory"), Link("f0", "e1", 0.8, "memory")],
    )


def test_equal_questions_keep_the_order_of_the_knowledge() -> None:
    """Equal gain and equal minutes: the first stays first."""
    assert asked(make_pair(), make_evidence()) == ["e0", "e1"]


def test_quicker_questions_come_first() -> None:
    """Gain counts per minute of the person's time."""
    questions = ask(make_pair(minutes=0.5), make_evidence())

    assert [question.finding for question in questions] == ["e1", "e0"]
    assert questions[0].gain_bits == pytest.approx(questions[1].gain_bits)
    assert questions[0].minutes == 0.5
    assert questions[0].question == "Is e1 so?"


def test_tools_cost_time() -> None:
    """A question that needs a tool comes later, unless it is that much quicker."""
    slower = make_pair(minutes=0.9, needs=("calipers",))
    same = ask(slower, make_evidence())

    assert [question.finding for question in same] == ["e0", "e1"]
    assert same[1].needs == ("calipers",)
    assert same[1].asking_minutes == pytest.approx(0.9 + TOOL_MINUTES)


def test_observed_and_excluded_findings_are_not_asked_about() -> None:
    """Neither what is known nor what was asked before is asked."""
    knowledge = make_network([0.2, 0.1], [0.05] * 3, {(0, 0): 0.8, (0, 1): 0.7, (1, 2): 0.6})

    assert asked(knowledge, make_evidence(present=[0]), exclude={"e2"}) == ["e1"]


def test_findings_of_another_process_or_without_a_possible_fault_are_not_asked_about() -> None:
    """Only what can tell something about a possible fault is asked."""
    knowledge = build_knowledge(
        faults=[make_fault("f0"), make_fault("f1", process="VPP"), make_fault("f2", prior=0.0)],
        findings=[
            make_finding("e0"),
            make_finding("e1", process="VPP"),
            make_finding("e2"),
            make_finding("e3"),
        ],
        links=[
            Link("f0", "e0", 0.8, "m"),
            Link("f1", "e1", 0.8, "m"),
            Link("f2", "e2", 0.8, "m"),
        ],
    )

    assert asked(knowledge, make_evidence()) == ["e0"]
    assert set(asked(knowledge, Evidence())) == {"e0", "e1"}


def test_an_unlikely_process_is_not_asked_about() -> None:
    """Strong evidence for one process stops questions about the other."""
    knowledge = build_knowledge(
        faults=[make_fault("f0", prior=0.3), make_fault("f1", process="VPP", prior=0.3)],
        findings=[
            make_finding("e0", leak=0.01),
            make_finding("e1", process="VPP"),
            make_finding("e2"),
        ],
        links=[
            Link("f0", "e0", 0.8, "m"),
            Link("f0", "e2", 0.8, "m"),
            Link("f1", "e1", 0.8, "m"),
        ],
    )

    assert asked(knowledge, Evidence(observations=(Observation("e0", "present"),))) == ["e2"]


def test_questions_that_settle_next_to_nothing_are_left_out() -> None:
    """A finding hardly linked to anything is not worth asking."""
    knowledge = make_network([0.1], [0.3, 0.05], {(0, 0): 0.01, (0, 1): 0.8})

    assert asked(knowledge, make_evidence()) == ["e1"]


def test_limit_keeps_the_best() -> None:
    """Only so many are returned."""
    knowledge = make_network([0.2], [0.05] * 3, {(0, 0): 0.3, (0, 1): 0.9, (0, 2): 0.6})

    assert asked(knowledge, make_evidence(), limit=2) == ["e1", "e2"]


def test_nothing_to_ask_gives_no_questions() -> None:
    """A network without links asks nothing."""
    assert ask(make_network([0.1], [0.1], {}), make_evidence()) == ()


@pytest.mark.parametrize(
    ("width", "most"), [(3, MOST_CANDIDATES), (13, BATCH_CELLS >> 13), (16, LEAST_CANDIDATES)]
)
def test_a_wide_case_is_screened_and_still_asks_the_best_question(width: int, most: int) -> None:
    """With many findings present only the most promising are summed, the best among them."""
    extra = 70
    links = {(i, j): 0.3 + 0.02 * ((i + j) % 9) for i in range(2) for j in range(width)}
    links |= {(j % 2, width + j): 0.1 + 0.012 * j for j in range(extra)}
    knowledge = make_network([0.3, 0.2], [0.05] * (width + extra), links)
    evidence = make_evidence(soft=dict.fromkeys(range(width), (0.6, 0.5)))

    questions = ask(knowledge, evidence)

    posterior = compute_posterior(knowledge, evidence)
    unseen = [f"e{width + j}" for j in range(extra)]
    effects = compute_answer_effects(knowledge, posterior, unseen)
    gains = marginal_gains(effects)
    assert len(questions) == most < extra
    assert questions[0].finding == unseen[int(gains.argmax())]
    # The batch is summed in parts when the case is wide; its last column is as good as its first.
    last = replace(
        evidence, observations=(*evidence.observations, Observation(unseen[-1], "absent"))
    )
    after = compute_posterior(knowledge, last).chances
    assert effects.if_absent[-1] == pytest.approx(list(after.values()), abs=1e-12)


def test_screen_is_exact_when_the_faults_are_independent() -> None:
    """Without evidence that ties faults together the screened gain is the true one."""
    knowledge = make_network(
        [0.2, 0.1, 0.0], [0.05, 0.1], {(0, 0): 0.8, (1, 0): 0.4, (1, 1): 0.6, (2, 1): 0.5}
    )
    posterior = compute_posterior(knowledge, make_evidence())

    screened = screen_gains(knowledge, posterior, ["e0", "e1"])

    true = marginal_gains(compute_answer_effects(knowledge, posterior, ["e0", "e1"]))
    assert screened == pytest.approx(true, rel=1e-9)
    assert isinstance(screened, np.ndarray)


def test_objective_decides_the_order_and_is_named() -> None:
    """What tells most need not save most; each question says what it was ranked by."""
    dear = make_action("a0", minutes=200.0, cures={"f0": 0.95})
    cheap = make_action("a1", minutes=1.0, cures={"f1": 0.95})
    knowledge = make_network(
        [0.3, 0.5], [0.05, 0.05], {(0, 0): 0.7, (1, 1): 0.9}, actions=[dear, cheap]
    )

    by_cost = ask(knowledge, make_evidence())
    by_entropy = ask(knowledge, make_evidence(), objective="entropy")

    assert [question.finding for question in by_cost] == ["e0", "e1"]
    assert [question.finding for question in by_entropy] == ["e1", "e0"]
    assert {question.objective for question in by_cost} == {"repair-cost"}
    assert {question.objective for question in by_entropy} == {"entropy"}


def test_what_saves_nothing_is_ordered_by_entropy_and_does_not_pay() -> None:
    """Without a remedy no answer changes the plan; the informative questions are still listed."""
    knowledge = make_network([0.2], [0.05] * 2, {(0, 0): 0.3, (0, 1): 0.9})

    questions = ask(knowledge, make_evidence())

    assert [question.finding for question in questions] == ["e1", "e0"]
    assert [question.gain_minutes for question in questions] == [0.0, 0.0]
    assert not any(question.pays for question in questions)


def test_what_cannot_be_asked_takes_no_place_in_the_screen() -> None:
    """Of a hundred findings only those the person may be asked about are screened."""
    extra = 100
    links = {(0, at): 0.9 - 0.005 * at for at in range(extra)}
    knowledge = make_network([0.3], [0.05] * extra, links)
    best = frozenset(f"e{at}" for at in range(MOST_CANDIDATES))

    questions = ask(knowledge, make_evidence(), respondent=Respondent(asked=best))

    assert len(questions) == MOST_CANDIDATES
    assert best.isdisjoint(question.finding for question in questions)


def test_a_plausible_danger_comes_before_what_saves_most() -> None:
    """By either objective; once it is raised, its other findings wait their turn."""
    scorch = (make_fault("scorch", prior=0.2), make_fault("glow", prior=0.2))
    danger = (
        make_finding("brown", danger="burn", leak=0.001, minutes=30.0),
        make_finding("smoky", danger="burn", leak=0.001, minutes=30.0),
    )
    knowledge = make_rivals(faults=scorch, findings=danger)
    raised = Evidence(process="MEX", observations=(Observation("brown", "present"),))

    for objective in ("repair-cost", "entropy"):
        questions = ask(knowledge, make_evidence(), objective=objective)
        assert [question.finding for question in questions[:2]] == ["brown", "smoky"]
        assert all(question.is_urgent and question.pays for question in questions[:2])
        assert not any(question.is_urgent for question in questions[2:])
    assert not any(question.is_urgent for question in ask(knowledge, raised))
