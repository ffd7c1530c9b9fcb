"""Which questions are looked at: the screen keeps the best, and every plausible danger."""

import pytest

from tests.triage.draws import Habits, draw_cases
from tests.triage.networks import make_evidence, make_fault, make_finding
from tests.triage.questions.rivals import make_rivals
from triage.inference import compute_posterior
from triage.knowledge import load_knowledge
from triage.previews import (
    MOST_CANDIDATES,
    list_candidates,
    list_plausible_dangers,
    preview_answers,
)
from triage.questions import KeptPlan, Respondent, answer_values


def test_the_screen_keeps_the_best_question_that_pays() -> None:
    """In drawn cases the screened set holds the best of all questions in 99 of 100.

    Where no question pays it does not matter which one is missed.
    """
    knowledge = load_knowledge()
    person = Respondent()
    paying = kept = 0
    for case in draw_cases(knowledge, 7, 150, Habits(looked=6, doubtful=2, process_unknown=0.0)):
        posterior = compute_posterior(knowledge, case.evidence)
        names = list_candidates(knowledge, case.evidence, posterior)
        plan = KeptPlan.of(knowledge, posterior, case.evidence)
        values = answer_values(knowledge, plan, names)
        cost = [
            person.own_minutes(knowledge.findings[name]) + person.round_trip_minutes
            for name in names
        ]
        ratio = values / cost
        best = int(ratio.argmax())
        if ratio[best] <= 1.0:
            continue
        paying += 1
        kept += names[best] in preview_answers(knowledge, case.evidence, posterior).findings
        assert len(names) > MOST_CANDIDATES

    assert paying >= 40
    assert kept >= 0.99 * paying


@pytest.mark.parametrize(("prior", "first"), [(0.2, ["brown"]), (0.01, [])])
def test_a_danger_is_plausible_when_a_fault_that_shows_it_is(
    prior: float, first: list[str]
) -> None:
    """A likely dangerous fault, not a rare one."""
    knowledge = make_rivals(
        faults=(make_fault("scorch", prior=prior),),
        findings=(make_finding("brown", danger="burn", leak=0.001),),
    )
    posterior = compute_posterior(knowledge, make_evidence())

    assert list_plausible_dangers(knowledge, make_evidence(), posterior) == first
