"""Ranking of questions: what is asked, in which order, and what is left out."""

from dataclasses import replace

import numpy as np
import pytest

from tests.triage.networks import make_evidence, make_fault, make_finding, make_network
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
from triage.questions import Question, rank_questions


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
    assert TOOL_MINUTES > 0.1


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
    ("width", "most"), [(3, MOST_CANDIDATES), (10, BATCH_CELLS >> 10), (13, LEAST_CANDIDATES)]
)
def test_a_wide_case_is_screened_and_still_asks_the_best_question(width: int, most: int) -> None:
    """With many findings present only the most promising are summed, the best among them."""
    extra = 50
    links = {(i, j): 0.3 + 0.02 * ((i + j) % 9) for i in range(2) for j in range(width)}
    links |= {(j % 2, width + j): 0.1 + 0.016 * j for j in range(extra)}
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
