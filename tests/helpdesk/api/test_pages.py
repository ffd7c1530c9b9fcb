"""The pages about tokens."""

from collections.abc import Callable

import pytest
from django.test import Client

from helpdesk.accounts.models import User
from helpdesk.api.models import ChannelToken
from helpdesk.cases.tokens import hash_token
from tests.helpdesk.api.calls import Program
from tests.helpdesk.api.conftest import MakeToken

pytestmark = pytest.mark.django_db
AsUser = Callable[[User], Client]
FORM = {
    "name": "Bot of the Tuesday server",
    "channel": "chat",
    "handle_where": "Tuesday server",
    "scopes": ["report:write", "event:read"],
    "picture_hosts": "files.workshop.example, .media.example",
    "days": "90",
}


def test_token_is_shown_once_and_works(desk_admin: User, as_user: AsUser) -> None:
    admin = as_user(desk_admin)

    page = admin.post("/api/tokens", FORM)

    row = ChannelToken.objects.get()
    secret = page.context["secret"]
    assert secret in page.content.decode()
    assert row.token_hash == hash_token(secret)
    assert row.picture_hosts == ["files.workshop.example", ".media.example"]
    assert Program(secret, Client()).get("/events").status_code == 200
    for address in ("/api/tokens", row.get_absolute_url()):
        assert secret not in admin.get(address).content.decode()


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("name", "", "Please name the program"),
        ("scopes", [], "choose at least one"),
        ("scopes", ["everything"], "Select a valid choice"),
        ("channel", "mail", "Select a valid choice"),
        ("picture_hosts", "https://files.example/a", "plain host names"),
        ("days", "0", "lasts a day at least"),
        ("days", "5000", "days at most"),
    ],
)
def test_form_that_is_no_good_says_why(
    desk_admin: User, as_user: AsUser, field: str, value: object, words: str
) -> None:
    page = as_user(desk_admin).post("/api/tokens", FORM | {field: value})

    assert page.status_code == 422
    assert words in page.content.decode()
    assert not ChannelToken.objects.exists()


def test_two_tokens_cannot_share_a_name(desk_admin: User, as_user: AsUser) -> None:
    admin = as_user(desk_admin)
    admin.post("/api/tokens", FORM)

    assert admin.post("/api/tokens", FORM).status_code == 422
    assert ChannelToken.objects.count() == 1


def test_revoked_token_opens_nothing(
    desk_admin: User, as_user: AsUser, make_token: MakeToken
) -> None:
    row, program = make_token()
    program.report()

    as_user(desk_admin).post(f"/api/tokens/{row.pk}/revoke")

    assert program.get("/events").status_code == 401
    assert "revoked" in as_user(desk_admin).get("/api/tokens").content.decode()
