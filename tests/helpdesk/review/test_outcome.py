"""A reviewer enters what a person told them elsewhere, and which step of the answer did it."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.answers.selectors import list_sent_steps, name_step
from helpdesk.cases.models import NOT_KNOWN, SOMETHING_ELSE, Case, CaseState
from helpdesk.cases.services import change_state, erase_person
from helpdesk.core import clock
from helpdesk.diagnosis.engine import action_info, list_actions
from tests.factories import make_case

LogIn = Callable[[User], Client]
SAFETY, BRIM, WASH = "unplug-first", "add-a-brim", "wash-the-plate"

pytestmark = pytest.mark.django_db


def answered(*actions: str, text: str | None = None, **fields: str) -> Case:
    """Return a case with a sent answer that advises some actions."""
    case = make_case(**fields)
    answer(case, *actions, text=text)
    change_state(case, CaseState.ANSWERED)
    return case


def answer(case: Case, *actions: str, text: str | None = None) -> Answer:
    """Let the desk send an answer; its words name every action unless given."""
    sent = text or " ".join(f"{action_info(name).name}. Then look." for name in actions)
    now = clock.now()
    return Answer.objects.create(
        case=case,
        body=sent,
        actions=list(actions),
        edited_at=now,
        sent_at=now,
        sent_text=sent,
        sent_via="chat",
    )


def ids(case: Case) -> list[str]:
    """Return the steps a person may choose from."""
    return [step.id for step in list_sent_steps(list(case.answers.all()))]


def test_steps_are_those_of_the_answer_without_safety() -> None:
    """Switching off cures nothing, so it is no choice; the rest stands in the answer's order."""
    safety = list_actions(("safety",))[0].id

    assert ids(answered(safety, WASH, BRIM)) == [WASH, BRIM]


def test_steps_taken_out_by_the_reviewer_are_no_choice() -> None:
    """A step counts when its name was sent; an answer in other words keeps all its steps."""
    name = action_info(BRIM).name

    assert ids(answered(WASH, BRIM, text=f"Do this first: {name}. And tell us.")) == [BRIM]
    assert ids(answered(WASH, BRIM, text="(1/2) Do it. (2/2) Now.")) == [WASH, BRIM]


def test_step_cut_in_two_messages_is_found() -> None:
    """The number of a message between two words of a name does not hide the step."""
    first, rest = action_info(WASH).name.split(" ", 1)

    assert ids(answered(WASH, BRIM, text=f"(1/2) {first}\n\n(2/2) {rest}. Then look.")) == [WASH]


def test_steps_of_the_latest_answer_come_first() -> None:
    """What was advised earlier may have done it too."""
    case = answered(WASH)
    answer(case, BRIM, WASH, "gone-from-the-knowledge", text="In other words.")

    assert ids(case) == [BRIM, WASH]


def test_step_is_named_in_words() -> None:
    """An outcome reads as words, also when its step left the knowledge."""
    known = {info.id for info in list_actions(("safety", "check", "remedy", "last"))}

    assert name_step(WASH) == action_info(WASH).name
    assert name_step(SOMETHING_ELSE) == "something else"
    assert name_step("old-step") == "old-step"
    assert name_step("") == ""
    assert not known & {SOMETHING_ELSE, NOT_KNOWN}


def test_reviewer_enters_what_was_told(reviewer: User, as_user: LogIn) -> None:
    """The outcome names who said it, the event who entered it; a cure closes the case."""
    case = answered(WASH, BRIM)
    client = as_user(reviewer)

    page = client.get(case.get_absolute_url()).content.decode()
    response = client.post(
        reverse("review:outcome", args=[case.pk]),
        {"result": "worked", "remedy": BRIM, "words": "Flat as a table."},
    )

    assert f'value="{BRIM}"' in page
    assert response.status_code == 302
    outcome = case.outcomes.get()
    assert (outcome.result, outcome.remedy, outcome.words) == ("worked", BRIM, "Flat as a table.")
    assert outcome.said_by == case.person
    event = case.events.get(kind="outcome")
    assert (event.actor, event.data) == (reviewer, {"remedy": BRIM})
    case.refresh_from_db()
    assert case.state == CaseState.CLOSED
    shown = client.get(case.get_absolute_url()).content.decode()
    assert f"<strong>Worked</strong>, {action_info(BRIM).name}" in shown


@pytest.mark.parametrize("data", [{}, {"result": "worked", "remedy": "unplug-the-moon"}])
def test_what_is_no_outcome_is_refused(
    reviewer: User, as_user: LogIn, data: dict[str, str]
) -> None:
    """Nothing chosen, or a step that was not sent, keeps nothing and marks the field."""
    case = answered(WASH)

    response = as_user(reviewer).post(reverse("review:outcome", args=[case.pk]), data)

    assert response.status_code == 422
    assert "data-refused" in response.content.decode()
    assert not case.outcomes.exists()


def test_outcome_without_answer_or_person_is_refused(reviewer: User, as_user: LogIn) -> None:
    """Before an answer, and after an erasure, there is nothing to tell."""
    early, erased = make_case(), answered(WASH)
    erase_person(erased, by="the person")
    client = as_user(reviewer)

    for case in (early, erased):
        response = client.post(reverse("review:outcome", args=[case.pk]), {"result": "worked"})
        assert response.status_code == 409
        assert not case.outcomes.exists()
