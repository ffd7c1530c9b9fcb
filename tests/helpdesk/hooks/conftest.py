"""A source, a target and a way to post signed messages."""

import json
import time
from collections.abc import Callable, Mapping
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.hooks import receiving
from helpdesk.hooks.models import HookSource, HookTarget
from helpdesk.hooks.services import make_source, make_target
from helpdesk.hooks.signing import make_headers, read_secret

Post = Callable[..., Any]
Listen = Callable[..., HookTarget]


@pytest.fixture(autouse=True)
def _no_backlog(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let each test look at the backlog and the limits anew."""
    monkeypatch.setattr(receiving, "_backlog", receiving._Backlog())
    monkeypatch.setattr(receiving, "_allowance", {})


@pytest.fixture
def source(desk_admin: User) -> HookSource:
    """Make the source of a community's chat bot."""
    values = {"name": "Chat bot", "handle_where": "Marrow Lane chat", "picture_hosts": []}
    return make_source(values, actor=desk_admin)


@pytest.fixture
def make_listener(desk_admin: User) -> Callable[..., HookTarget]:
    """Return a function that makes a target which hears of everything."""
    from helpdesk.hooks.events import KINDS  # noqa: PLC0415 - the fixtures of pages do not need it

    def make(url: str, source: HookSource | None = None, **more: Any) -> HookTarget:
        name = "Own bot" if source else "Board"
        values = {"name": name, "url": url, "source": source, "kinds": list(KINDS), **more}
        return make_target(values, actor=desk_admin)

    return make


@pytest.fixture
def post(source: HookSource, client: Client) -> Post:
    """Return a function that posts a signed message to the source's address."""

    def send(
        message: Mapping[str, Any] | bytes,
        *,
        message_id: str = "msg_1",
        secret: str = "",
        at: float | None = None,
        to: HookSource = source,
        **headers: str,
    ) -> Any:
        body = message if isinstance(message, bytes) else json.dumps(message).encode()
        signed = make_headers(
            [read_secret(secret or to.secret)],
            message_id=message_id,
            timestamp=int(time.time() if at is None else at),
            body=body,
        )
        return client.post(
            reverse("hooks:receive", args=[to.public_id]),
            body,
            content_type="application/json",
            headers={
                **signed,
                **{name.replace("_", "-"): value for name, value in headers.items()},
            },
        )

    return send


def report(**data: Any) -> dict[str, Any]:
    """Return the message of a new report."""
    given = {
        "conversation": "thread-1",
        "text": "The corners of my box curl up from the plate after an hour.",
        "author": {"name": "Bettine Halvorsen", "handle": "bettine_h"},
        "link": "https://chat.marrowlane.example/thread-1",
    }
    return {"type": "report.created", "timestamp": "2026-11-25T18:00:00Z", "data": given | data}
