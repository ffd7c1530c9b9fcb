"""Fixtures shared by all tests."""

import os
from collections.abc import Callable

import pytest
from django.test import Client

from helpdesk.accounts.models import User
from tests.factories import make_user


@pytest.fixture
def reviewer(db: None) -> User:
    """Make a reviewer of the demo scenario."""
    return make_user("imke", role="reviewer", first_name="Imke")


@pytest.fixture
def producer(db: None) -> User:
    """Make the producer of the demo scenario."""
    return make_user("wren", role="producer", first_name="Wren")


@pytest.fixture
def desk_admin(db: None) -> User:
    """Make a person who runs the desk."""
    return make_user("odalys", role="admin", first_name="Odalys")


@pytest.fixture
def as_user() -> Callable[[User], Client]:
    """Return a function that gives a client logged in as a user."""

    def log_in(user: User) -> Client:
        client = Client()
        client.force_login(user)
        return client

    return log_in


@pytest.fixture
def needs() -> Callable[[str, bool], None]:
    """Return a function that skips a test when a service is away, or fails where CI promises it."""

    def check(what: str, is_there: bool) -> None:
        if is_there:
            return
        if os.environ.get("PRINTWARD_TESTS_MUST_RUN"):
            pytest.fail(f"{what} is missing although PRINTWARD_TESTS_MUST_RUN is set")
        pytest.skip(f"{what} is not there")

    return check


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark tests that ask for the database by a fixture as those that ask by the mark.

    So that `-m django_db` picks all of them.
    """
    for item in items:
        if "db" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.django_db)
