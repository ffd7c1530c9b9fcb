"""Who is let in, and how what goes wrong is answered.

Sources: RFC 6750 (bearer tokens), RFC 9457 (problem documents), RFC 9110 (405 with Allow, 415,
Retry-After), draft-ietf-httpapi-idempotency-key-header-07 (keys).
"""

import datetime
import json
from typing import Any

import pytest
from django.test import Client

from helpdesk.api.errors import KINDS
from helpdesk.api.models import ChannelToken, Scope
from helpdesk.api.services import revoke_token
from helpdesk.cases.models import Case
from helpdesk.core import clock
from tests.helpdesk.api.calls import BASE, TEXT, Program
from tests.helpdesk.api.conftest import MakeToken

pytestmark = pytest.mark.django_db


def problem(response: Any) -> dict[str, Any]:
    """Return a problem document after checking its form (RFC 9457 section 3)."""
    assert response["Content-Type"] == "application/problem+json"
    said: dict[str, Any] = json.loads(response.content)
    assert said["status"] == response.status_code
    assert said["title"]
    assert said["detail"]
    return said


def kind_of(response: Any) -> str:
    return str(problem(response)["type"]).rpartition("/")[2]


def test_secret_is_kept_as_a_hash_only(make_token: MakeToken) -> None:
    row, program = make_token()

    values = " ".join(str(value) for value in ChannelToken.objects.filter(pk=row.pk).values()[0])
    stored = json.dumps(ChannelToken.objects.filter(pk=row.pk).values()[0], default=str)

    assert values
    assert program.secret not in stored
    assert len(program.secret) >= 36


@pytest.mark.parametrize("header", ["", "Bearer", "Bearer nonsense", "Basic eDp5", "nonsense"])
def test_request_without_a_valid_token_is_refused(header: str) -> None:
    response = Client().get(f"{BASE}/events", headers={"Authorization": header})

    assert response.status_code == 401
    assert response["WWW-Authenticate"].startswith("Bearer ")
    assert kind_of(response) == "unauthorized"


def test_revoked_and_ended_tokens_look_like_unknown_ones(make_token: MakeToken) -> None:
    revoked, first = make_token()
    revoke_token(revoked)
    _, second = make_token(expires_at=clock.now() - datetime.timedelta(seconds=1))
    unknown = Program("pwt_unknown", Client()).get("/events")

    assert first.get("/events").content == second.get("/events").content == unknown.content


def test_scheme_is_read_in_any_case(make_token: MakeToken) -> None:
    _, program = make_token()

    response = Client().get(f"{BASE}/events", headers={"Authorization": f"bearer {program.secret}"})

    assert response.status_code == 200


CALLS = [
    ("GET", "/events", Scope.EVENT_READ),
    ("GET", "/answers", Scope.LIBRARY_READ),
    ("GET", f"/cases/{'a' * 22}", Scope.CASE_READ),
    ("POST", "/reports", Scope.REPORT_WRITE),
    ("POST", "/uploads", Scope.REPORT_WRITE),
    ("POST", "/inbox", Scope.REPORT_WRITE),
    ("POST", f"/cases/{'a' * 22}/replies", Scope.REPLY_WRITE),
    ("POST", f"/cases/{'a' * 22}/outcome", Scope.OUTCOME_WRITE),
]


@pytest.mark.parametrize(("method", "path", "scope"), CALLS)
def test_each_call_needs_its_own_scope(
    make_token: MakeToken, method: str, path: str, scope: str
) -> None:
    _, without = make_token(scopes=[name for name in Scope.values if name != scope])
    _, only = make_token(scopes=[scope])

    refused = without.get(path) if method == "GET" else without.post(path, {}, key="k")
    let_in = only.get(path) if method == "GET" else only.post(path, {}, key="k")

    assert refused.status_code == 403
    assert 'error="insufficient_scope"' in refused["WWW-Authenticate"]
    assert scope in problem(refused)["detail"]
    assert let_in.status_code != 403


def test_method_that_is_not_there_is_named(bot: Program) -> None:
    response = bot.get("/reports")

    assert (response.status_code, response["Allow"]) == (405, "POST")
    assert kind_of(response) == "method-not-allowed"


def test_address_that_is_not_there_is_a_problem_too(bot: Program) -> None:
    for path in ("/nothing", "/cases", f"/cases/{'x' * 22}", "/cases/1"):
        assert kind_of(bot.get(path)) == "not-found"


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        (b"{", "malformed"),
        (b'{"text": "a", "text": "b"}', "malformed"),
        (b'{"text": "\xff"}', "malformed"),
        (b"[" * 5000, "malformed"),
        (b"[]", "invalid"),
        (b"null", "invalid"),
        (b"{}", "invalid"),
        (b'{"text": " \\u0000\\n"}', "invalid"),
        (b'{"text": "a", "colour": "red"}', "invalid"),
        (b'{"text": "a", "facts": {"nozzle_mm": "0.4"}}', "invalid"),
        (b'{"text": "a", "facts": {"nozzle_mm": 400}}', "invalid"),
        (b'{"text": "a", "link": "javascript:alert(1)"}', "invalid"),
        (b'{"text": "a", "person": {"email": "nobody"}}', "invalid"),
        (b'{"text": "a", "consent": {"may_show_photos": true}}', "invalid"),
        (b'{"text": "' + b"x" * 300_000 + b'"}', "too-large"),
    ],
    ids=lambda value: str(value)[:40],
)
def test_body_that_is_no_good_is_explained_and_nothing_is_kept(
    bot: Program, body: bytes, kind: str
) -> None:
    response = bot.post("/reports", body, key="k-1")

    assert kind_of(response) == kind
    assert not Case.objects.exists()
    assert bot.report("k-1").status_code == 201  # the key was not used up


def test_fault_is_pointed_at(bot: Program) -> None:
    """RFC 9457 section 3: an extension member may point into the body (RFC 6901)."""
    response = bot.post(
        "/reports", {"text": TEXT, "person": {"email": "nobody"}, "facts": {"a/b": 1}}, key="k"
    )

    assert [fault["pointer"] for fault in problem(response)["errors"]] == [
        "#/facts",
        "#/person/email",
    ]


@pytest.mark.parametrize("media", ["text/plain", "application/xml", ""])
def test_other_content_types_are_not_taken(bot: Program, media: str) -> None:
    response = bot.post("/reports", b"{}", key="k", media=media)

    assert (response.status_code, kind_of(response)) == (415, "wrong-media-type")


def test_parameter_that_is_not_known_is_said(bot: Program) -> None:
    for query in ({"after": "x"}, {"after": "-1"}, {"before": "1"}, {"after": ["1", "2"]}):
        assert kind_of(bot.get("/events", **query)) == "malformed"


def test_calls_are_counted_by_token(make_token: MakeToken, settings: Any) -> None:
    settings.LIMITS = {**settings.LIMITS, "api_calls": 2}
    _, first = make_token()
    _, second = make_token()

    statuses = [first.get("/events").status_code for _ in range(3)]
    refused = first.get("/events")

    assert statuses == [200, 200, 429]
    assert 1 <= int(refused["Retry-After"]) <= 1800
    assert kind_of(refused) == "too-often"
    assert second.get("/events").status_code == 200


def test_guessing_of_tokens_is_slowed(settings: Any) -> None:
    settings.LIMITS = {**settings.LIMITS, "api_refusals": 2}
    guesser = Program("pwt_guess", Client())

    assert [guesser.get("/events").status_code for _ in range(3)] == [401, 401, 429]


def test_every_kind_of_problem_has_its_page() -> None:
    """RFC 9457 section 3.1.1: a type that is an address should lead to its explanation."""
    for kind in KINDS:
        response = Client().get(f"/api/problems/{kind.name}")
        assert response.status_code == 200
        assert kind.title in response.content.decode()
    assert Client().get("/api/problems/none-such").status_code == 404


def test_type_of_a_problem_leads_to_its_page(bot: Program, settings: Any) -> None:
    settings.DESK_ADDRESS = "https://desk.example"

    said = problem(bot.get("/reports"))

    assert said["type"] == "https://desk.example/api/problems/method-not-allowed"


def test_day_of_last_use_is_kept(make_token: MakeToken) -> None:
    row, program = make_token()

    program.get("/events")

    row.refresh_from_db()
    assert row.last_used_on == clock.today()
