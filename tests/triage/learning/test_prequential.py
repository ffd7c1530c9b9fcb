"""Scoring learning on cases before it has seen them."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from tests.triage.learning.samples import make_lesson, make_small
from tests.triage.lessons import CAREFUL, draw_lessons, perturb
from tests.triage.networks import make_layers12x15
from triage.errors import OutOfRangeError, UnknownIdError
from triage.inference import compute_posterior
from triage.learning import learn, revise, score_lesson, score_prequential


def test_loss_of_a_lesson_is_the_surprise_at_its_verdict() -> None:
    """By hand: the sum over faults of log2 of what was given to what came true."""
    knowledge = make_small()
    lesson = make_lesson(findings={"e0": True, "e1": False})
    chances = compute_posterior(knowledge, lesson.evidence()).chances

    loss = score_lesson(knowledge, lesson)

    assert loss.bits == pytest.approx(-math.log2(chances["f0"]) - math.log2(1.0 - chances["f1"]))
    assert loss.brier == pytest.approx((1.0 - chances["f0"]) ** 2 + chances["f1"] ** 2)


def test_loss_of_a_lesson_does_not_look_at_its_remedies() -> None:
    """What a remedy did was not known when the case was judged."""
    knowledge = make_small()

    losses = [score_lesson(knowledge, make_lesson(remedies=r)) for r in ({}, {"mend": True})]

    assert losses[0] == losses[1]


def test_loss_of_a_lesson_refuses_unknown_ids() -> None:
    """The message names what is unknown."""
    with pytest.raises(UnknownIdError, match="unknown finding 'e9'"):
        score_lesson(make_small(), make_lesson(findings={"e9": True}))


def test_prequential_judges_each_lesson_by_those_before_it() -> None:
    """With blocks of one, the third is foreseen by what the first two teach."""
    knowledge = make_small()
    lessons = [
        make_lesson("a", findings={"e0": True}),
        make_lesson("b", faults=frozenset({"f1"}), findings={"e1": False}),
        make_lesson("c", findings={"e0": False, "e1": True}),
    ]

    rows = score_prequential(knowledge, lessons, block=1).foreseen

    assert [row.lesson for row in rows] == ["a", "b", "c"]
    assert rows[0].learned == rows[0].expert
    assert rows[2].learned == score_lesson(
        revise(knowledge, learn(knowledge, lessons[:2])), lessons[2]
    )
    assert rows[2].expert == score_lesson(knowledge, lessons[2])


def test_prequential_waits_for_the_end_of_a_block() -> None:
    """Within a block nothing is learned."""
    lessons = [make_lesson(str(at), findings={"e0": True}) for at in range(4)]

    rows = score_prequential(make_small(), lessons, block=3).foreseen

    assert [row.learned == row.expert for row in rows] == [True, True, True, False]


def test_prequential_does_not_praise_agreement_with_itself() -> None:
    """Accepted suggestions are learned from, not scored."""
    lessons = [make_lesson("a", basis="accepted"), make_lesson("b", basis="confirmed")]

    scores = score_prequential(make_small(), lessons, block=1)

    assert [row.lesson for row in scores.foreseen] == ["b"]
    assert scores.unscored == 1
    assert scores.foreseen[0].learned != scores.foreseen[0].expert


def test_prequential_adds_up() -> None:
    """The curve ends at the difference of the totals, and the JSON says the same."""
    lessons = [make_lesson(str(at), findings={"e0": at % 2 == 0}) for at in range(10)]

    scores = score_prequential(
        make_small(), [*lessons, make_lesson("x", faults=frozenset())], block=2
    )

    count = len(scores.foreseen)
    assert scores.curve()[-1] == pytest.approx(count * (scores.expert.bits - scores.learned.bits))
    stored = json.loads(json.dumps(scores.to_json()))
    assert stored["learned"] == {"bits": scores.learned.bits, "brier": scores.learned.brier}
    assert [row[0] for row in stored["foreseen"]] == [str(at) for at in range(10)]
    assert stored["foreseen"][3][2] == scores.foreseen[3].learned.bits
    assert [note.lesson for note in scores.skipped] == ["x"]


def test_prequential_of_no_lessons_is_empty() -> None:
    """Nothing to judge, and no division by nothing."""
    scores = score_prequential(make_small(), [])

    assert (scores.foreseen, scores.curve(), scores.learned.bits) == ((), (), 0.0)


def test_prequential_refuses_a_block_of_nothing() -> None:
    """It would never end."""
    with pytest.raises(OutOfRangeError, match="a block of 0 lessons must hold 1 or more"):
        score_prequential(make_small(), [], block=0)


def test_prequential_shows_that_learning_pays() -> None:
    """Where the expert is wrong, the learned network loses less on cases to come."""
    expert = make_layers12x15()
    generator = np.random.default_rng(4)
    truth = perturb(expert, generator, 1.0)
    clinic = replace(CAREFUL, telling=0.0, looked=8)
    lessons = [row.lesson for row in draw_lessons(truth, expert, generator, 400, clinic)]

    scores = score_prequential(expert, lessons)

    assert scores.learned.bits < scores.expert.bits - 0.1
    assert scores.learned.brier < scores.expert.brier


def test_prequential_costs_little_where_the_expert_is_right() -> None:
    """Learning from cases the expert foresees well loses hardly anything."""
    expert = make_layers12x15()
    clinic = replace(CAREFUL, telling=0.0, looked=8)
    drawn = draw_lessons(expert, expert, np.random.default_rng(4), 400, clinic)

    scores = score_prequential(expert, [row.lesson for row in drawn])

    assert scores.learned.bits < scores.expert.bits + 0.1
