"""What people say became of a print, and which step did it."""

import datetime

import pytest

from helpdesk.cases.models import Case, CaseState, OutcomeResult
from helpdesk.cases.outcomes import name_step, tap_outcome, tell_outcome
from helpdesk.cases.services import change_state
from helpdesk.core import clock
from helpdesk.core.errors import WrongStateError
from tests.factories import make_case


@pytest.fixture
def answered(db: None) -> Case:
    """Make an answered case that is to be asked about in some days."""
    case = make_case()
    change_state(case, CaseState.ANSWERED)
    case.follow_up_on = clock.today() + datetime.timedelta(days=14)
    case.save(update_fields=["follow_up_on"])
    return case


@pytest.mark.parametrize(
    ("result", "state", "why"),
    [
        (OutcomeResult.WORKED, CaseState.CLOSED, "It worked"),
        (OutcomeResult.GAVE_UP, CaseState.CLOSED, "They gave it up"),
        (OutcomeResult.DID_NOT_WORK, CaseState.RECEIVED, "It did not work"),
        (OutcomeResult.PARTLY, CaseState.ANSWERED, ""),
        (OutcomeResult.NOT_TRIED, CaseState.ANSWERED, ""),
    ],
)
def test_each_result_moves_the_case_as_it_says(
    answered: Case, result: str, state: str, why: str
) -> None:
    """An end closes, a failure comes back, the rest leaves the case where it is."""
    tap_outcome(answered.pk, result=result)

    answered.refresh_from_db()
    assert answered.state == state
    assert answered.events.filter(kind="state").latest("pk").why == why


@pytest.mark.parametrize("result", OutcomeResult.values)
def test_only_who_has_not_tried_is_asked_again(answered: Case, result: str) -> None:
    """Whoever said how it went has been heard."""
    tap_outcome(answered.pk, result=result)

    answered.refresh_from_db()
    assert (answered.follow_up_on is not None) == (result == OutcomeResult.NOT_TRIED)


def test_same_press_twice_is_one_outcome(answered: Case) -> None:
    """A second press, or the same word with the step named meanwhile, changes nothing."""
    first = tap_outcome(answered.pk, result="worked")
    name_step(answered.pk, remedy="add-brim")
    second = tap_outcome(answered.pk, result="worked")

    assert first == second
    assert answered.outcomes.get().remedy == "add-brim"


def test_same_word_about_a_later_answer_is_news(answered: Case) -> None:
    """It failed, the desk answered anew, and it failed again."""
    tap_outcome(answered.pk, result="failed")
    with clock.standing_at(clock.now() + datetime.timedelta(days=1)):
        answered.refresh_from_db()
        change_state(answered, CaseState.ANSWERED)
    with clock.standing_at(clock.now() + datetime.timedelta(days=9)):
        tap_outcome(answered.pk, result="failed")

    answered.refresh_from_db()
    assert answered.outcomes.count() == 2
    assert answered.state == CaseState.RECEIVED


def test_step_is_added_to_what_was_told_last(answered: Case) -> None:
    """The step stands with the outcome and in the history, once."""
    tap_outcome(answered.pk, result="partly")

    for _ in range(2):
        name_step(answered.pk, remedy="add-brim")

    assert answered.outcomes.get().remedy == "add-brim"
    assert answered.events.filter(kind="outcome", data__remedy="add-brim").count() == 1


@pytest.mark.parametrize("told", ["", "failed", "untried", "gave_up"])
def test_no_step_without_a_cure(answered: Case, told: str) -> None:
    """What did not help was done by no step."""
    if told:
        tell_outcome(answered.pk, result=told)

    with pytest.raises(WrongStateError, match="no step can be named"):
        name_step(answered.pk, remedy="add-brim")
