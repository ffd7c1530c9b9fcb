"""The address other programs post to: what is taken, what is refused and how."""

import json
import time
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.cases.models import Case, Message
from helpdesk.core.jobs import run_due_jobs
from helpdesk.hooks.models import HookMessage, HookSource
from helpdesk.hooks.services import rotate_secret, switch_source
from helpdesk.hooks.signing import make_secret
from tests.helpdesk.hooks.conftest import Post, report

pytestmark = pytest.mark.django_db


def test_report_becomes_a_case_with_its_author_and_link(post: Post) -> None:
    response = post(report())
    run_due_jobs()

    case = Case.objects.get()
    assert (response.status_code, response.json()) == (202, {"kept": "msg_1"})
    assert (case.channel, case.reply_channel) == ("chat", "chat")
    assert (case.person_name, case.handle) == ("Bettine Halvorsen", "bettine_h")
    assert case.handle_where == "Marrow Lane chat"
    assert case.reports.get().link == "https://chat.marrowlane.example/thread-1"
    assert not case.mails.exists()


def test_answer_comes_once_the_row_is_kept_and_the_work_is_done_later(post: Post) -> None:
    assert post(report()).status_code == 202

    kept = HookMessage.objects.get()
    assert (kept.state, kept.case) == ("waiting", None)
    assert not Case.objects.exists()


def test_replay_is_answered_the_same_and_has_no_effect(post: Post) -> None:
    """At once, after ten minutes and after three days; the sender signs anew each time."""
    answers = [post(report(), at=time.time() + skew) for skew in (0, 0, 299, -299)]
    run_due_jobs()
    answers.append(post(report()))
    run_due_jobs()

    assert {(answer.status_code, answer.content) for answer in answers} == {
        (202, b'{"kept": "msg_1"}')
    }
    assert Case.objects.count() == 1


def test_id_that_comes_with_other_words_is_refused(post: Post) -> None:
    post(report())

    response = post(report(text="Something else altogether."))

    assert response.status_code == 409
    assert HookMessage.objects.count() == 1


def test_two_sources_may_use_the_same_id(post: Post, source: HookSource) -> None:
    other = HookSource.objects.get(pk=source.pk)
    other.pk, other.name, other.public_id, other.secret = None, "Second", "second", make_secret()
    other.save()

    assert post(report()).status_code == 202
    assert post(report(text="Strings between the towers."), to=other).status_code == 202


@pytest.mark.parametrize("skew_s", [-302, 302, -86_400])
def test_skewed_clock_is_refused(post: Post, skew_s: int) -> None:
    response = post(report(), at=time.time() + skew_s)

    assert response.status_code == 401
    assert response["Content-Type"] == "application/problem+json"
    assert response.json()["status"] == 401


def test_wrong_secret_is_refused(post: Post) -> None:
    assert post(report(), secret=make_secret()).status_code == 401
    assert not HookMessage.objects.exists()


@pytest.mark.parametrize("signature", ["v1", "v1,a,b", "", "\u00e9", "v1,=" * 900])
@pytest.mark.parametrize("body", [b"{}", b"\xff\xfe", b""])
def test_malformed_signature_is_401_and_never_500(
    source: HookSource, client: Client, signature: str, body: bytes
) -> None:
    response = client.post(
        reverse("hooks:receive", args=[source.public_id]),
        body,
        content_type="application/json",
        headers={
            "webhook-id": "msg_1",
            "webhook-timestamp": str(int(time.time())),
            "webhook-signature": signature,
        },
    )

    assert response.status_code == 401


def test_rotated_secret_holds_beside_the_new_one_until_it_expires(
    post: Post, source: HookSource
) -> None:
    old = source.secret
    new = rotate_secret(HookSource, source.pk).secret

    assert post(report(), secret=old, message_id="msg_old").status_code == 202
    assert post(report(), secret=new, message_id="msg_new").status_code == 202

    HookSource.objects.update(previous_until="2026-01-01T00:00:00Z")
    assert post(report(), secret=old, message_id="msg_late").status_code == 401
    assert post(report(), secret=new, message_id="msg_after").status_code == 202


def test_retired_source_is_gone(post: Post, source: HookSource) -> None:
    switch_source(source.pk, is_active=False)

    assert post(report()).status_code == 410


def test_unknown_source_is_not_found(client: Client) -> None:
    assert client.post(reverse("hooks:receive", args=["nobody"])).status_code == 404


def test_other_method_is_refused(source: HookSource, client: Client) -> None:
    response = client.get(reverse("hooks:receive", args=[source.public_id]))

    assert (response.status_code, response["Allow"]) == (405, "POST")


def test_body_above_the_cap_is_refused_and_one_at_the_cap_is_read(post: Post) -> None:
    room = 256 * 1024
    start = b'{"type":"report.created","data":{"conversation":"c","text":"Corners lift."},"pad":"'
    at_cap = start + b"x" * (room - len(start) - 2) + b'"}'

    assert post(at_cap + b" ", message_id="over").status_code == 413
    assert post(at_cap, message_id="at").status_code == 202


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"not json",
        b"\xff\xfe{}",
        b'{"type":"report.created","type":"report.created","data":{}}',
        b'{"data":{"text":"a","text":"b"}}',
        b"[" * 200_000,
        b'{"a":' * 13 + b"1" + b"}" * 13,
        b'{"a":NaN}',
        b'{"a":Infinity}',
        b'{"a":' + b"9" * 5000 + b"}",
        b'{"a":1} {"b":2}',
    ],
)
def test_body_that_is_no_json_within_limits_is_400(post: Post, body: bytes) -> None:
    """Among them a name twice, deep nesting, and what JSON has no word for (RFC 8259)."""
    response = post(body)

    assert response.status_code == 400
    assert not HookMessage.objects.exists()


def test_brackets_inside_words_are_no_nesting(post: Post) -> None:
    assert post(report(text='[[[[[[[[[[[[[[ {"a": "\\"[["} it lifts')).status_code == 202


@pytest.mark.parametrize(
    ("message", "pointer"),
    [
        ([], ""),
        ({}, "/type"),
        ({"type": "case.erase", "data": {}}, "/type"),
        ({"type": 5, "data": {}}, "/type"),
        ({"type": "report.created"}, ""),
        ({"type": "report.created", "data": []}, "/data"),
        (report(text=""), "/data/text"),
        (report(text=" \n "), "/data/text"),
        (report(text="x" * 20_001), "/data/text"),
        (report(conversation=7), "/data/conversation"),
        (report(author="Bettine"), "/data/author"),
        (report(pictures=[{}]), "/data/pictures/0"),
        (report(pictures=[{"url": "x", "base64": "eA=="}]), "/data/pictures/0"),
        (report(pictures=[{"url": "x"}] * 11), "/data/pictures"),
        (report(consent={"may_show_photos": True}), "/data/consent"),
        (
            report(
                consent={
                    "wording": "May we show it?",
                    "said_by": "Bettine",
                    "said_at": "yesterday",
                }
            ),
            "/data/consent/said_at",
        ),
        (report(consent=True), "/data/consent"),
        ({"type": "reply.created", "data": {"text": "Yes."}}, "/data"),
        (
            {"type": "reply.created", "data": {"text": "Yes.", "conversation": "unheard"}},
            "/data/conversation",
        ),
        ({"type": "reply.created", "data": {"text": "Yes.", "case": 1}}, "/data/case"),
    ],
)
def test_message_that_breaks_the_schema_is_422_and_says_where(
    post: Post, message: object, pointer: str
) -> None:
    response = post(json.dumps(message).encode())

    assert response.status_code == 422
    assert response["Content-Type"] == "application/problem+json"
    assert pointer in [fault["pointer"] for fault in response.json()["errors"]]


def test_refused_message_may_be_sent_again_once_it_is_mended(post: Post) -> None:
    assert post(report(text="")).status_code == 422
    assert post(report()).status_code == 202


def test_fields_that_are_not_known_are_passed_over(post: Post) -> None:
    assert post(report(mood="glum") | {"version": 2}).status_code == 202


def test_source_that_sends_too_much_waits(post: Post, settings: Any) -> None:
    settings.LIMITS = {**settings.LIMITS, "hooks": 2}
    codes = [post(report(), message_id=f"msg_{n}").status_code for n in range(3)]

    late = post(report(), message_id="msg_9")

    assert codes == [202, 202, 429]
    assert 0 < int(late["Retry-After"]) <= 1800
    assert post(report(), message_id="msg_0").status_code == 202, "a replay costs nothing"


def test_message_is_put_off_while_too_many_wait(post: Post, settings: Any) -> None:
    settings.HOOK_BACKLOG = 1
    post(report(), message_id="msg_0")
    HookMessage.objects.update(id_hash="known")
    post(report(), message_id="msg_1")

    from helpdesk.hooks import receiving  # noqa: PLC0415 - its cache is set back

    receiving._backlog.looked_at -= 10
    response = post(report(), message_id="msg_2")

    assert (response.status_code, response["Retry-After"]) == (503, "60")


def test_plain_http_is_refused_and_not_redirected(post: Post, settings: Any) -> None:
    settings.SECURE_SSL_REDIRECT = True
    settings.SECURE_REDIRECT_EXEMPT = ["^hooks/in/"]

    assert post(report()).status_code == 403


def test_words_no_database_holds_are_left_out(post: Post) -> None:
    post(report(text="Corners\u0000 lift again."))
    run_due_jobs()

    assert Case.objects.get().reports.get().story == "Corners lift again."


def test_half_a_character_is_refused(post: Post) -> None:
    """RFC 7493 section 2.1: no unpaired surrogates."""
    assert post(report(text="Corners lift \ud800 again.")).status_code == 400


def test_reply_before_its_report_is_taken_waits_for_it(post: Post) -> None:
    post(report())
    reply = {"type": "reply.created", "data": {"conversation": "thread-1", "text": "It is PLA."}}
    assert post(reply, message_id="msg_2").status_code == 202
    first, second = HookMessage.objects.order_by("pk")
    assert first.kind == "report.created"

    from helpdesk.hooks.taking import NotYetError, take_message  # noqa: PLC0415 - beside its use

    with pytest.raises(NotYetError):
        take_message(second.pk)
    take_message(first.pk)
    take_message(second.pk)

    assert Message.objects.get(kind="reply").body == "It is PLA."
