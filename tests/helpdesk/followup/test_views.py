"""The page of people to be asked by hand."""

import datetime
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case, CaseState, Channel
from helpdesk.cases.services import change_state
from helpdesk.core import clock
from helpdesk.diagnosis.engine import action_info
from tests.factories import make_case

Login = Callable[[User], Client]
DUE = "followup:due"


@pytest.fixture
def due_case(db: None) -> Case:
    """Make an answered case of somebody on a chat server, due since yesterday."""
    case = make_case(
        email="",
        reply_channel=Channel.CHAT,
        handle="bettine-prints",
        handle_where="Tarn Street chat",
        title="Box <b>one</b>",
    )
    change_state(case, CaseState.ANSWERED)
    case.follow_up_on = clock.today() - datetime.timedelta(days=1)
    case.save(update_fields=["follow_up_on"])
    return case


def test_due_page_has_the_words_to_send(due_case: Case, as_user: Login, reviewer: User) -> None:
    """Who, where, and a text to copy that needs no address; the title is escaped."""
    page = as_user(reviewer).get(reverse(DUE)).content.decode()

    assert "bettine-prints on Tarn Street chat" in page
    assert "Hello Bettine" in page
    assert "It helped a little" in page
    assert "{private_link}" not in page
    assert "<b>one</b>" not in page


def test_asked_takes_the_case_off_the_page(due_case: Case, as_user: Login, reviewer: User) -> None:
    """With and without script, one press."""
    client = as_user(reviewer)
    address = reverse("followup:asked", args=[due_case.pk])

    plain = client.post(address)
    fragment = client.post(address, headers={"HX-Request": "true"})

    due_case.refresh_from_db()
    assert plain.status_code == 302
    assert "Nobody has to be asked by hand today." in fragment.content.decode()
    assert "<html" not in fragment.content.decode()
    assert due_case.follow_up_on is not None
    assert due_case.follow_up_on > clock.today()


def test_due_page_needs_a_reviewer(
    due_case: Case, as_user: Login, producer: User, reviewer: User
) -> None:
    """Producers, visitors and GETs change nothing."""
    address = reverse("followup:asked", args=[due_case.pk])

    assert as_user(producer).get(reverse(DUE)).status_code == 403
    assert as_user(producer).post(address).status_code == 403
    assert Client().get(reverse(DUE)).status_code == 302
    assert as_user(reviewer).get(address).status_code == 405


def test_reviewer_enters_what_was_told_with_one_press(
    due_case: Case, as_user: Login, reviewer: User
) -> None:
    """The result is kept in the person's name with the reviewer who heard it."""
    client = as_user(reviewer)
    address = reverse("followup:heard", args=[due_case.pk])

    assert client.post(address, {"result": "nonsense"}).status_code == 400
    client.post(address, {"result": "gave_up"}, headers={"HX-Request": "true"})
    client.post(address, {"result": "gave_up"})

    due_case.refresh_from_db()
    assert due_case.state == CaseState.CLOSED
    assert due_case.outcomes.get().said_by == "Bettine Halvorsen"
    assert due_case.events.get(kind="outcome").actor == reviewer


def test_due_page_shows_the_first_step(due_case: Case, as_user: Login, reviewer: User) -> None:
    """What was advised is there at a glance."""
    name = action_info("wash-the-plate").name
    Answer.objects.create(
        case=due_case,
        body=name,
        actions=["wash-the-plate", "add-a-brim"],
        edited_at=clock.now(),
        sent_at=clock.now(),
        sent_text=f"{name}. {action_info('add-a-brim').name}.",
        sent_via="chat",
    )

    page = as_user(reviewer).get(reverse(DUE)).content.decode()

    assert f"The answer began with: <strong>{name}</strong>" in page


def test_leave_in_peace_takes_the_case_off(due_case: Case, as_user: Login, reviewer: User) -> None:
    """One press, and the history says that nobody asks."""
    as_user(reviewer).post(reverse("followup:asked", args=[due_case.pk]), {"rest": "yes"})

    due_case.refresh_from_db()
    assert due_case.follow_up_on is None
    assert due_case.events.get(kind="follow_up").what == "Will not be asked how it went"


def test_due_page_costs_the_same_for_many(
    due_case: Case, as_user: Login, reviewer: User, django_assert_max_num_queries: Any
) -> None:
    """The queries grow with what is shown, not with what waits."""
    for _ in range(40):
        case = make_case(email="", reply_channel=Channel.CHAT)
        change_state(case, CaseState.ANSWERED)
        Case.objects.filter(pk=case.pk).update(follow_up_on=clock.today())
    client = as_user(reviewer)

    with django_assert_max_num_queries(15):
        page = client.get(reverse(DUE)).content.decode()

    assert page.count("<article") == 30
