"""Tokens and programs that use them."""

import datetime
import itertools
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from helpdesk.accounts.models import User
from helpdesk.api.models import ChannelToken, Scope
from helpdesk.api.services import make_channel_token
from helpdesk.core import clock
from tests.helpdesk.api.calls import Program

MakeToken = Callable[..., tuple[ChannelToken, Program]]


@pytest.fixture
def make_token(desk_admin: User) -> MakeToken:
    """Return a function that makes a token and its program; every scope unless said otherwise."""
    numbers = itertools.count(1)

    def make(**more: Any) -> tuple[ChannelToken, Program]:
        values: dict[str, Any] = {
            "name": f"Bot {next(numbers)}",
            "channel": "chat",
            "handle_where": "Marrow Lane chat",
            "scopes": Scope.values,
            "picture_hosts": [],
            "expires_at": clock.now() + datetime.timedelta(days=30),
        }
        row, secret = make_channel_token(**(values | more), actor=desk_admin)
        return row, Program(secret, Client())

    return make


@pytest.fixture
def bot(make_token: MakeToken) -> Program:
    """Return a program that may do everything."""
    return make_token()[1]
