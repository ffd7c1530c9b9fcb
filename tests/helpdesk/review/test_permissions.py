"""Who may open and do what."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from tests.factories import make_case, make_user

SEEN = ["queue", "case"]
DONE = [
    "take_next",
    "claim",
    "hand_on",
    "facts",
    "mark_finding",
    "verdict",
    "ask",
    "note",
    "close",
    "reopen",
]


def address(name: str, number: int) -> str:
    """Return the address of a view, with the case's number where it has one."""
    return reverse(f"review:{name}", args=[] if name in ("queue", "take_next") else [number])


@pytest.mark.parametrize("name", SEEN)
def test_case_is_seen_by_reviewers_and_producers(
    reviewer: User, producer: User, as_user: Callable[[User], Client], name: str
) -> None:
    """Both roles look; somebody without a role does not, and a stranger logs in first."""
    case = make_case()
    guest = make_user("guest", role="reviewer")
    guest.groups.clear()
    path = address(name, case.pk)

    assert as_user(reviewer).get(path).status_code == 200
    assert as_user(producer).get(path).status_code == 200
    assert as_user(guest).get(path).status_code == 403
    assert Client().get(path).status_code == 302


@pytest.mark.parametrize("name", DONE)
def test_case_is_changed_by_reviewers_only(
    producer: User, as_user: Callable[[User], Client], name: str
) -> None:
    """A producer may change nothing; a stranger is sent to log in."""
    case = make_case()
    events = case.events.count()

    assert as_user(producer).post(address(name, case.pk)).status_code == 403
    assert Client().post(address(name, case.pk)).status_code == 302
    assert case.events.count() == events


@pytest.mark.parametrize("name", [*DONE, "reveal"])
def test_change_needs_post_and_token(
    reviewer: User, as_user: Callable[[User], Client], name: str
) -> None:
    """A link cannot change anything, and neither can another site's form."""
    case = make_case()
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(reviewer)

    assert as_user(reviewer).get(address(name, case.pk)).status_code == 405
    assert strict.post(address(name, case.pk)).status_code == 403


@pytest.mark.parametrize("name", ["case", *DONE[1:], "reveal"])
def test_missing_case_is_404(reviewer: User, as_user: Callable[[User], Client], name: str) -> None:
    """A number no case has is told as such by every view."""
    client = as_user(reviewer)
    path = address(name, 987654)

    response = client.get(path) if name == "case" else client.post(path)

    assert response.status_code == 404


def test_producer_sees_no_reviewing_controls(
    producer: User, as_user: Callable[[User], Client]
) -> None:
    """The page offers nothing that would be refused."""
    case = make_case()

    content = as_user(producer).get(case.get_absolute_url()).content.decode()

    for name in DONE:
        assert address(name, case.pk) + '"' not in content
