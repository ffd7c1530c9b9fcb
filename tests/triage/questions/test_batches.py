"""Questions asked together: what each adds, and that none repeats another."""

import numpy as np
import pytest
from hypothesis import given

from tests.triage.networks import make_evidence, make_fault, make_finding, make_network
from tests.triage.questions.listed import value_of
from tests.triage.questions.rivals import make_rivals
from tests.triage.questions.test_worth import cases, draw_cases
from tests.triage.strategies import PATIENT
from triage.errors import OutOfRangeError
from triage.evidence import Evidence
from triage.inference import compute_posterior
from triage.knowledge import Knowledge
from triage.questions import Batch, Respondent, choose_batch, rank_questions
from triage.repair import LAST_RESORT_MINUTES


def batch_for(knowledge: Knowledge, evidence: Evidence, **options: object) -> Batch:
    """Return the batch for a case."""
    posterior = compute_posterior(knowledge, evidence)
    return choose_batch(knowledge, evidence, posterior, **options)  # type: ignore[arg-type]


def asked(batch: Batch) -> list[str]:
    """Return the findings asked about, in order."""
    return [entry.question.finding for entry in batch.questions]


@given(cases(2))
@PATIENT
def test_a_batch_of_two_faults_is_worth_what_the_listing_says(
    case: tuple[Knowledge, Evidence],
) -> None:
    """All combinations of answers together save what brute force says."""
    knowledge, evidence = case

    batch = batch_for(knowledge, evidence)

    expected = value_of(knowledge, evidence, asked(batch), LAST_RESORT_MINUTES)
    assert batch.gain_minutes == pytest.approx(expected, abs=0.01)


@given(cases(4))
@PATIENT
def test_a_batch_is_worth_the_sum_of_what_each_adds(case: tuple[Knowledge, Evidence]) -> None:
    """No answer takes away; the first adds what it is worth alone; one round trip is paid."""
    knowledge, evidence = case

    batch = batch_for(knowledge, evidence)

    added = [entry.added_minutes for entry in batch.questions]
    assert len(batch.questions) <= 3
    assert len(set(asked(batch))) == len(batch.questions)
    assert all(minutes >= 0.0 for minutes in added)
    assert batch.gain_minutes == pytest.approx(sum(added))
    if batch.questions:
        first = batch.questions[0].question
        ranked = rank_questions(knowledge, evidence, compute_posterior(knowledge, evidence))
        assert first == ranked[0]
        assert added[0] == first.gain_minutes
        own = sum(entry.question.asking_minutes for entry in batch.questions)
        assert batch.cost_minutes == pytest.approx(own + Respondent().round_trip_minutes)
        assert batch.pays == (batch.gain_minutes > batch.cost_minutes)


def test_a_batch_in_drawn_cases_saves_what_it_promises() -> None:
    """What all answers together save, by listing, is near what the batch says, and not below."""
    promised, true, best_alone = [], [], []
    for knowledge, evidence, unseen in draw_cases(12):
        batch = batch_for(knowledge, evidence)
        promised.append(batch.gain_minutes)
        true.append(value_of(knowledge, evidence, asked(batch), LAST_RESORT_MINUTES))
        best_alone.append(
            max(value_of(knowledge, evidence, [name], LAST_RESORT_MINUTES) for name in unseen)
        )

    assert np.mean(true) > 1.0
    assert np.mean(promised) == pytest.approx(np.mean(true), rel=0.25)
    assert np.mean(true) >= np.mean(best_alone)


def test_what_repeats_an_answer_is_left_out() -> None:
    """Two findings of the same fault say the same; the third speaks of the rival."""
    batch = batch_for(make_rivals(), make_evidence())

    assert set(asked(batch)) in ({"told", "other"}, {"twin", "other"})
    assert batch.pays


def test_questions_that_do_not_pay_alone_may_pay_together() -> None:
    """One round trip is shared: each saves less than its own, all together save more."""
    knowledge = make_rivals()
    alone = rank_questions(
        knowledge, make_evidence(), compute_posterior(knowledge, make_evidence())
    )
    dear = max(question.gain_minutes for question in alone) + 0.5

    batch = batch_for(knowledge, make_evidence(), respondent=Respondent(round_trip_minutes=dear))

    assert all(entry.question.gain_minutes < dear for entry in batch.questions)
    assert len(batch.questions) == 2
    assert batch.pays


def test_when_asking_costs_more_than_it_saves_nothing_pays() -> None:
    """The desk can then say that the plan is better followed; what would tell is still listed."""
    slow = Respondent(round_trip_minutes=10_000.0)
    posterior = compute_posterior(make_rivals(), make_evidence())

    batch = batch_for(make_rivals(), make_evidence(), respondent=slow)
    ranked = rank_questions(make_rivals(), make_evidence(), posterior, respondent=slow)

    assert not batch.pays
    assert len(ranked) == 3
    assert not any(question.pays for question in ranked)


def test_dangers_come_first_in_a_batch_once_each_and_pay() -> None:
    """Two plausible dangers are both asked about before what saves more; neither twice."""
    knowledge = make_rivals(
        faults=tuple(make_fault(name, prior=0.2) for name in ("scorch", "glow", "fume")),
        findings=(
            make_finding("brown", danger="burn", leak=0.001),
            make_finding("smoky", danger="burn", leak=0.001),
            make_finding("sting", danger="fumes", leak=0.001),
        ),
    )
    slow = Respondent(round_trip_minutes=10_000.0)

    batch = batch_for(knowledge, make_evidence(), respondent=slow)

    dangers = [entry.question.danger for entry in batch.questions[:2]]
    assert sorted(str(danger) for danger in dangers) == ["burn", "fumes"]
    assert batch.pays


def test_nothing_to_ask_makes_an_empty_batch() -> None:
    """All looked at: an empty batch, not an error."""
    knowledge = make_network([0.3], [0.05], {(0, 0): 0.8})

    batch = batch_for(knowledge, make_evidence(present=(0,)))

    assert batch == Batch((), 0.0, 0.0, pays=False)


@pytest.mark.parametrize("most", [1, 2, 3])
def test_no_more_are_asked_than_wanted(most: int) -> None:
    """The reviewer decides how many go into one letter."""
    assert len(asked(batch_for(make_rivals(), make_evidence(), most=most))) == min(most, 2)


@pytest.mark.parametrize("most", [0, 4])
def test_a_number_of_questions_out_of_range_is_refused(most: int) -> None:
    """Combinations of answers double with each question."""
    with pytest.raises(OutOfRangeError, match=f"{most} questions together must be 1 to 3"):
        batch_for(make_rivals(), make_evidence(), most=most)
