"""The pages of hooks, as the people who run the desk use them."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.core.jobs import run_due_jobs
from helpdesk.hooks.announcing import send_test
from helpdesk.hooks.events import KINDS
from helpdesk.hooks.models import HookDelivery, HookSource, HookTarget
from tests.helpdesk.hooks.conftest import Listen, Post, report

pytestmark = pytest.mark.django_db
SOURCE = {
    "name": "Chat bot",
    "channel": "chat",
    "handle_where": "Marrow Lane chat",
    "picture_hosts": "pictures.example\n.media.example",
    "length_limit": "1800",
}
TARGET = {"name": "Board", "url": "https://192.0.2.7/hook", "kinds": ["case.closed"]}
Log = Callable[[User], Client]


@pytest.fixture
def desk(as_user: Log, desk_admin: User) -> Client:
    return as_user(desk_admin)


def body_of(client: Client, name: str, *args: object) -> str:
    """Return a page's text."""
    response = client.get(reverse(name, args=args))
    assert response.status_code == 200
    return response.content.decode()


def test_source_is_added_and_its_secret_shown_once(desk: Client) -> None:
    response = desk.post(reverse("hooks:new_source"), SOURCE, follow=True)
    source = HookSource.objects.get()

    assert source.picture_hosts == ["pictures.example", ".media.example"]
    assert source.secret in response.content.decode()
    assert f"/hooks/in/{source.public_id}" in response.content.decode()
    assert source.secret not in body_of(desk, "hooks:source", source.pk)
    assert source.created_by is not None


@pytest.mark.parametrize("hosts", ["https://pictures.example", "pictures", "a b.example", "*.x.y"])
def test_host_that_is_none_is_refused_with_everything_kept(desk: Client, hosts: str) -> None:
    response = desk.post(reverse("hooks:new_source"), SOURCE | {"picture_hosts": hosts})

    assert response.status_code == 422
    assert "is not the name of a host" in response.content.decode()
    assert "Marrow Lane chat" in response.content.decode()


def test_target_on_the_open_network_is_added(desk: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("helpdesk.incoming.fetching.is_public", lambda address: True)
    response = desk.post(reverse("hooks:new_target"), TARGET, follow=True)

    assert HookTarget.objects.get().secret in response.content.decode()


@pytest.mark.parametrize("url", ["http://bot.example/", "https://127.0.0.1/", "bot", ""])
def test_target_the_desk_never_calls_is_refused(desk: Client, url: str) -> None:
    response = desk.post(reverse("hooks:new_target"), TARGET | {"url": url})

    assert response.status_code == 422
    assert not HookTarget.objects.exists()


def test_new_secret_is_shown_once_and_the_old_one_holds(desk: Client, source: HookSource) -> None:
    old = source.secret
    response = desk.post(reverse("hooks:new_secret", args=["sources", source.pk]), follow=True)
    source.refresh_from_db()

    assert source.secret != old
    assert source.previous_secret == old
    assert source.secret in response.content.decode()
    assert old not in response.content.decode()


def test_source_is_retired_and_taken_back(desk: Client, source: HookSource, post: Post) -> None:
    address = reverse("hooks:switch", args=["sources", source.pk])
    desk.post(address)
    assert post(report()).status_code == 410
    desk.post(address)
    assert post(report()).status_code == 202


def test_log_of_a_source_says_what_came(desk: Client, source: HookSource, post: Post) -> None:
    post(report())
    run_due_jobs()

    page = body_of(desk, "hooks:source", source.pk)
    assert "report.created" in page
    assert "taken" in page


def test_trial_message_stands_in_the_log(
    desk: Client, make_listener: Listen, settings: Any
) -> None:
    target = make_listener("https://127.0.0.1/hook")
    desk.post(reverse("hooks:try_target", args=[target.pk]))
    run_due_jobs()

    delivery = HookDelivery.objects.get()
    assert "desk.test" in body_of(desk, "hooks:target", target.pk)
    page = body_of(desk, "hooks:delivery", delivery.pk)
    assert "not on the open network" in page
    assert delivery.webhook_id in page
    assert target.secret not in page


def test_given_up_delivery_is_sent_again_alone_or_with_others(
    desk: Client, make_listener: Listen
) -> None:
    target = make_listener("https://127.0.0.1/hook")
    first, second = send_test(target), send_test(target)
    HookDelivery.objects.update(state="given_up")

    desk.post(reverse("hooks:send_again", args=[first.pk]))
    assert HookDelivery.objects.get(state="waiting").pk == first.pk

    span = {"since": "2020-01-01T00:00", "until": "2099-01-01T00:00"}
    desk.post(reverse("hooks:send_range", args=[target.pk]), span)
    assert HookDelivery.objects.filter(state="waiting").count() == 2
    assert second.webhook_id in set(HookDelivery.objects.values_list("webhook_id", flat=True))


def test_span_that_ends_before_it_begins_is_refused(desk: Client, make_listener: Listen) -> None:
    target = make_listener("https://127.0.0.1/hook")
    span = {"since": "2026-11-25T12:00", "until": "2026-11-25T11:00"}
    response = desk.post(reverse("hooks:send_range", args=[target.pk]), span)

    assert response.status_code == 422
    assert "ends before it begins" in response.content.decode()


def test_change_that_is_refused_changes_nothing(desk: Client, source: HookSource) -> None:
    address = reverse("hooks:source", args=[source.pk])
    response = desk.post(address, SOURCE | {"name": "", "length_limit": "5"})

    assert response.status_code == 422
    assert re.search(r"<h1>\s*Chat bot\s*</h1>", response.content.decode())
    assert desk.post(address, SOURCE | {"name": "Helper"}).status_code == 302
    source.refresh_from_db()
    assert source.name == "Helper"


def test_every_event_has_words_on_the_form(desk: Client) -> None:
    page = body_of(desk, "hooks:new_target")

    for kind, words in KINDS.items():
        assert f"{words} ({kind})" in page


def test_pages_are_for_those_who_run_the_desk(as_user: Log, reviewer: User) -> None:
    assert as_user(reviewer).get(reverse("hooks:hooks")).status_code == 403
