"""The page of people to be asked by hand."""

import datetime
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case, CaseState, Channel
from helpdesk.cases.services import change_state
from helpdesk.core import clock
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
    assert due_case.follow_up_on is None


def test_due_page_needs_a_reviewer(
    due_case: Case, as_user: Login, producer: User, reviewer: User
) -> None:
    """Producers, visitors and GETs change nothing."""
    address = reverse("followup:asked", args=[due_case.pk])

    assert as_user(producer).get(reverse(DUE)).status_code == 403
    assert as_user(producer).post(address).status_code == 403
    assert Client().get(reverse(DUE)).status_code == 302
    assert as_user(reviewer).get(address).status_code == 405
