"""Roles, log-in and a person's own settings."""

from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import PRODUCE_EPISODES, REVIEW_CASES, ROLES, RUN_DESK, make_roles
from helpdesk.core.models import Bucket

pytestmark = pytest.mark.django_db
LOGIN = reverse("accounts:login")
PASSWORD = "a-long-enough-secret"
REFUSAL = "That name and password do not fit together. Please try again."


def test_roles_give_exactly_their_permissions() -> None:
    """Each role holds what the table says, also after somebody changed it by hand."""
    make_roles()
    Group.objects.get(name="reviewer").permissions.clear()

    make_roles()

    for role, names in ROLES.items():
        held = Group.objects.get(name=role).permissions.values_list("codename", flat=True)
        assert {f"accounts.{code}" for code in held} == set(names)


def test_person_holds_the_permissions_of_the_role(
    reviewer: User, producer: User, desk_admin: User
) -> None:
    """Reviewers review, producers produce, admins do both and run the desk."""
    held = [
        [user.has_perm(name) for name in (REVIEW_CASES, PRODUCE_EPISODES, RUN_DESK)]
        for user in (reviewer, producer, desk_admin)
    ]

    assert held == [[True, False, False], [False, True, False], [True, True, True]]


def test_login_opens_the_page_that_was_asked_for(reviewer: User) -> None:
    """Whoever was sent to log in goes on where they wanted to."""
    client = Client()
    sent = client.get(reverse("search:search"))

    response = client.post(sent["Location"], {"username": "imke", "password": PASSWORD})

    assert response["Location"] == reverse("search:search")


def test_login_leads_to_no_other_site(reviewer: User) -> None:
    """An address of another site in the link is not followed."""
    response = Client().post(
        f"{LOGIN}?next=https://elsewhere.example/",
        {"username": "imke", "password": PASSWORD, "next": "https://elsewhere.example/"},
    )

    assert response["Location"] == reverse("home")


@pytest.mark.parametrize(
    ("username", "password"),
    [("imke", "wrong"), ("nobody-of-that-name", PASSWORD), ("teodor", PASSWORD)],
)
def test_login_tells_nothing_about_who_exists(reviewer: User, username: str, password: str) -> None:
    """A wrong password, an unknown name and a closed account are answered alike."""
    User.objects.create_user("teodor", password=PASSWORD, is_active=False)

    page = Client().post(LOGIN, {"username": username, "password": password}).content.decode()

    assert page.count(REFUSAL) == 1
    assert "<title>Error" in page


def test_login_renews_the_session(reviewer: User) -> None:
    """A session known before the log-in is worth nothing after it."""
    client = Client()
    client.get(LOGIN)
    session = client.session
    session["planted"] = True
    session.save()
    client.cookies["sessionid"] = session.session_key or ""

    client.post(LOGIN, {"username": "imke", "password": PASSWORD})

    assert client.session.session_key != session.session_key


def test_logout_ends_the_session_on_the_server(
    reviewer: User, as_user: Callable[[User], Client]
) -> None:
    """The old cookie opens nothing after logging out."""
    client = as_user(reviewer)
    old = client.cookies["sessionid"].value
    client.post(reverse("accounts:logout"))
    thief = Client()
    thief.cookies["sessionid"] = old

    response = thief.get(reverse("review:queue"))

    assert response.status_code == 302
    assert response["Location"].startswith(LOGIN)


def test_closed_account_loses_its_sessions(
    reviewer: User, as_user: Callable[[User], Client]
) -> None:
    """Somebody who leaves the desk is out at once."""
    client = as_user(reviewer)
    reviewer.is_active = False
    reviewer.save()

    assert client.get(reverse("review:queue")).status_code == 302


@pytest.mark.parametrize(
    ("password", "why"),
    [
        ("fourteen chars", "at least 15 characters"),
        ("1q2w3e4r5t6y7u8i", "too common"),
        ("imke.of.the.bench1", "too similar"),
    ],
)
def test_weak_password_is_refused(password: str, why: str) -> None:
    """Passwords have fifteen characters, are not on the list of common ones and not the name."""
    user = User(username="imke.of.the.bench")

    with pytest.raises(ValidationError, match=why):
        validate_password(password, user)


def test_long_password_without_rules_is_taken(reviewer: User) -> None:
    """A sentence of small letters will do."""
    validate_password("the kiln is warm and the tea is cold", reviewer)


def test_settings_switch_the_keys_off(reviewer: User, as_user: Callable[[User], Client]) -> None:
    """Single keys are off on every page once the person says so."""
    client = as_user(reviewer)
    assert " data-keys" in client.get(reverse("review:queue")).content.decode()

    client.post(reverse("accounts:own_settings"), {"spoken_name": "Immy"})

    reviewer.refresh_from_db()
    assert reviewer.spoken_name == "Immy"
    assert " data-keys" not in client.get(reverse("review:queue")).content.decode()


def test_settings_touch_nobody_else_and_no_right(
    reviewer: User, producer: User, as_user: Callable[[User], Client]
) -> None:
    """Extra fields in the form change nothing."""
    as_user(reviewer).post(
        reverse("accounts:own_settings"),
        {"spoken_name": "Immy", "id": producer.pk, "is_staff": "on", "is_superuser": "on"},
    )

    reviewer.refresh_from_db()
    producer.refresh_from_db()
    assert (reviewer.is_staff, reviewer.is_superuser) == (False, False)
    assert producer.spoken_name == ""


def test_short_name_is_the_first_name_there_is() -> None:
    """Pages call a person by first name, else as spoken, else by log-in."""
    assert User(username="u", first_name="Imke", spoken_name="Immy").short_name == "Imke"
    assert User(username="u", spoken_name="Immy").short_name == "Immy"
    assert User(username="u").short_name == "u"


def test_login_is_slowed_after_many_wrong_passwords(reviewer: User, settings: Any) -> None:
    """Not even the right password is looked at while too many wrong ones came for the name."""
    settings.LIMITS = settings.LIMITS | {"logins": 2, "logins_address": 50}
    client = Client()
    for _ in range(2):
        assert client.post(LOGIN, {"username": "IMKE", "password": "wrong"}).status_code == 200

    response = client.post(LOGIN, {"username": "imke", "password": PASSWORD})

    assert response.status_code == 429
    assert "Too many attempts" in response.content.decode()
    assert int(response["Retry-After"]) > 0
    Bucket.objects.all().delete()
    assert client.post(LOGIN, {"username": "imke", "password": PASSWORD}).status_code == 302


def test_login_from_one_address_is_slowed_whatever_the_names(reviewer: User, settings: Any) -> None:
    """Trying one password with many names is slowed too; another address is not."""
    settings.LIMITS = settings.LIMITS | {"logins": 50, "logins_address": 3}
    right = {"username": "imke", "password": PASSWORD}
    for number in range(3):
        Client().post(LOGIN, {"username": f"name-{number}", "password": "wrong"})

    assert Client().post(LOGIN, right).status_code == 429
    assert Client(REMOTE_ADDR="192.0.2.9").post(LOGIN, right).status_code == 302


def test_right_logins_count_for_nothing(reviewer: User, settings: Any) -> None:
    """Logging in and out all day locks nobody out."""
    settings.LIMITS = settings.LIMITS | {"logins": 1, "logins_address": 1}
    right = {"username": "imke", "password": PASSWORD}

    assert [Client().post(LOGIN, right).status_code for _ in range(3)] == [302] * 3


def test_admin_pages_use_the_one_login(reviewer: User, as_user: Callable[[User], Client]) -> None:
    """The admin pages have no second log-in that would count nothing."""
    page = Client().get("/admin/", follow=True)

    assert page.redirect_chain[-1][0] == f"{LOGIN}?next=%2Fadmin%2F"
    assert Client().post("/admin/login/", {"username": "imke", "password": "x"}).status_code == 302
    assert as_user(reviewer).get("/admin/", follow=True).status_code == 403
