"""What goes out: to whom, signed how, tried when; against a real server.

Times and rules are those of the Standard Webhooks specification 1.0.0 (deliverability, its example
schedule), Retry-After of RFC 9110 section 10.2.3.
"""

import datetime
import json
from collections.abc import Iterator
from email.utils import format_datetime
from http.server import BaseHTTPRequestHandler
from typing import Any

import pytest
from django.core import mail

from helpdesk.accounts.models import User
from helpdesk.answers.services import draft_answer, send_answer
from helpdesk.cases.models import Case, Channel
from helpdesk.cases.selectors import find_case_by_token
from helpdesk.cases.services import Consent, record_appearance, record_consent
from helpdesk.core import clock
from helpdesk.core.errors import WrongStateError
from helpdesk.core.jobs import run_due_jobs
from helpdesk.hooks.announcing import announce_event, send_test
from helpdesk.hooks.errors import StillSendingError
from helpdesk.hooks.models import HookDelivery, HookSource, HookTarget
from helpdesk.hooks.sending import MOST_TRIES, PAUSES_S, deliver
from helpdesk.hooks.services import replay, replay_range, rotate_secret, switch_target
from helpdesk.hooks.signing import SignatureError, read_secret, verify
from helpdesk.intake.services import erase
from helpdesk.outbox.deliveries import is_carried, list_deliveries
from helpdesk.review.services import ask_person
from tests.factories import make_case
from tests.helpdesk.hooks.conftest import Listen, Post, report
from tests.helpdesk.incoming.servers import answer, serving

pytestmark = pytest.mark.django_db
SECRET_WORDS = ("bettine", "Halvorsen", "curl up", "/t/", "@")


def work_off() -> None:
    """Do the jobs, and those they start, until none is due."""
    while run_due_jobs():
        pass


class Receiver:
    """A program that is told things: what it got, and what it says next."""

    def __init__(self) -> None:
        self.got: list[tuple[dict[str, str], bytes]] = []
        self.status = 204
        self.headers: dict[str, str] = {}
        self.body = b""
        self.port = 0

    def __call__(self, handler: BaseHTTPRequestHandler) -> None:
        """Keep what came and answer."""
        headers = {name.lower(): value for name, value in handler.headers.items()}
        self.got.append((headers, handler.rfile.read(int(headers["content-length"]))))
        answer(handler, self.body, status=self.status, headers=self.headers)

    @property
    def url(self) -> str:
        """Return its address."""
        return f"http://127.0.0.1:{self.port}/hook"

    def messages(self, kind: str) -> list[dict[str, Any]]:
        """Return the messages of a type."""
        return [m for m in (json.loads(body) for _, body in self.got) if m["type"] == kind]

    @property
    def ids(self) -> list[str]:
        """Return the ids of what came."""
        return [headers["webhook-id"] for headers, _ in self.got]


@pytest.fixture
def receiver(settings: Any) -> Iterator[Receiver]:
    settings.INSIDE_HOSTS = ["127.0.0.1"]
    says = Receiver()
    with serving(says) as says.port:
        yield says


@pytest.fixture
def case(post: Post, source: HookSource, receiver: Receiver, make_listener: Listen) -> Case:
    """Report a case by hook while the source's own bot listens."""
    make_listener(receiver.url, source)
    post(report())
    work_off()
    return Case.objects.get()


def test_own_bot_hears_that_the_report_came_with_the_private_page(
    case: Case, receiver: Receiver
) -> None:
    (message,) = receiver.messages("report.received")

    data = message["data"]
    assert (data["case"], data["conversation"], data["state"]) == (case.pk, "thread-1", "received")
    token = data["private_link"].rpartition("/")[2]
    assert find_case_by_token(token) == case
    assert "private_link}" not in data["private_link"]


def test_message_is_signed_as_the_specification_says(case: Case, receiver: Receiver) -> None:
    target = HookTarget.objects.get()
    headers, body = receiver.got[0]

    signed = verify([read_secret(target.secret)], headers, body, now_s=clock.now().timestamp())

    assert signed.message_id == HookDelivery.objects.get(webhook_id=signed.message_id).webhook_id
    assert headers["content-type"] == "application/json"
    assert len(body) < 20_000


def test_message_is_signed_with_both_secrets_while_one_is_changed(
    case: Case, receiver: Receiver, reviewer: User
) -> None:
    target = HookTarget.objects.get()
    old, new = target.secret, rotate_secret(HookTarget, target.pk).secret
    send_test(target)
    run_due_jobs()
    headers, body = receiver.got[-1]
    now_s = clock.now().timestamp()

    assert verify([read_secret(old)], headers, body, now_s=now_s).message_id
    assert verify([read_secret(new)], headers, body, now_s=now_s).message_id

    HookTarget.objects.update(previous_until=clock.now() - datetime.timedelta(seconds=1))
    send_test(target)
    run_due_jobs()
    headers, body = receiver.got[-1]
    with pytest.raises(SignatureError):
        verify([read_secret(old)], headers, body, now_s=now_s)


def test_question_goes_out_with_its_words(case: Case, receiver: Receiver, reviewer: User) -> None:
    asked = ask_person(
        case, ["corners-lifted"], words="Could you look at the belt?", actor=reviewer
    )
    work_off()

    (message,) = receiver.messages("question.asked")
    assert "Could you look at the belt?" in "\n".join(message["data"]["texts"])
    assert asked.message.kind == "question"


def test_answer_goes_out_cut_for_the_channel_and_shows_in_the_timeline(
    case: Case, receiver: Receiver, reviewer: User
) -> None:
    draft = draft_answer(case, reviewer)
    assert is_carried(case)
    sent = send_answer(draft.pk, draft.version, reviewer, Channel.CHAT)
    work_off()

    (message,) = receiver.messages("answer.sent")
    texts = message["data"]["texts"]
    assert "\n\n".join(texts) == sent.sent_text
    assert all(len(text) <= 500 for text in texts)
    (carried,) = [d for d in list_deliveries(case) if d.what == "answer"]
    assert (carried.channel, carried.state) == ("chat", "sent")


def test_answer_by_letter_is_announced_without_its_words(
    case: Case, receiver: Receiver, reviewer: User
) -> None:
    Case.objects.update(email="bettine@tarnstreet.example")
    draft = draft_answer(case, reviewer)
    send_answer(draft.pk, draft.version, reviewer, Channel.MAIL)
    work_off()

    (message,) = receiver.messages("answer.sent")
    assert "texts" not in message["data"]
    assert "@" not in json.dumps(message)


def test_other_program_hears_no_names_no_words_and_no_private_links(
    receiver: Receiver, make_listener: Listen, post: Post, reviewer: User
) -> None:
    make_listener(receiver.url)
    post(report())
    work_off()
    case = Case.objects.get()
    ask_person(case, [], words="Is bettine@tarnstreet.example yours?", actor=reviewer)
    draft = draft_answer(case, reviewer)
    send_answer(draft.pk, draft.version, reviewer, Channel.CHAT)
    record_consent(case, Consent(may_show_photos=True, credit_as="Bettine"), given_by="Bettine")
    record_appearance(
        case,
        episode_number=41,
        episode_title="Corners",
        starts_at_s=754,
        on_date=datetime.date(2026, 11, 26),
        link="https://shows.marrowlane.example/41",
    )
    work_off()

    everything = b"\n".join(body for _, body in receiver.got).decode()
    assert {json.loads(body)["type"] for _, body in receiver.got} == {
        "report.received",
        "question.asked",
        "answer.sent",
        "consent.changed",
        "case.featured",
    }
    for words in SECRET_WORDS:
        assert words.lower() not in everything.lower()
    (shown,) = receiver.messages("case.featured")
    assert (shown["data"]["episode"], shown["data"]["second"]) == (41, 754)
    assert shown["data"]["link"] == "https://shows.marrowlane.example/41"


def test_bot_of_a_source_hears_of_no_other_case(case: Case, receiver: Receiver) -> None:
    before = len(receiver.got)
    other = make_case()
    work_off()

    assert len(receiver.got) == before
    assert not is_carried(other)


def test_only_events_that_were_asked_for_go_out(receiver: Receiver, make_listener: Listen) -> None:
    make_listener(receiver.url, kinds=["case.closed"])
    make_case()
    work_off()

    assert receiver.got == []


def test_event_is_announced_once_however_often_the_job_runs(case: Case, receiver: Receiver) -> None:
    before = HookDelivery.objects.count()
    for event in case.events.all():
        announce_event(event.pk)

    assert HookDelivery.objects.count() == before


def start(receiver: Receiver, make_listener: Listen) -> HookDelivery:
    """Write one delivery that is due."""
    return send_test(make_listener(receiver.url))


def test_refused_message_is_tried_ten_times_over_three_days_and_then_given_up(
    receiver: Receiver, make_listener: Listen, desk_admin: User
) -> None:
    """The specification's example: 75 h 35 min 5 s after the start, plus up to a tenth."""
    User.objects.filter(pk=desk_admin.pk).update(email="odalys@marrowlane.example")
    receiver.status, receiver.body = 500, b"out of order, whsec_c2VjcmV0"
    delivery = start(receiver, make_listener)
    began = now = clock.now()
    pauses = []
    for tries in range(1, MOST_TRIES + 1):
        with clock.standing_at(now):
            run_due_jobs()
            assert len(receiver.got) == tries
            delivery.refresh_from_db()
            pauses.append((delivery.due_at - now).total_seconds())
            now = max(delivery.due_at, now)

    for pause, planned in zip(pauses, PAUSES_S, strict=False):
        assert planned <= pause <= planned * 1.1
    assert sum(PAUSES_S) == 75 * 3600 + 35 * 60 + 5
    assert (now - began).total_seconds() >= sum(PAUSES_S)
    assert len(set(receiver.ids)) == 1, "the id stays the same"
    assert delivery.state == "given_up"
    assert delivery.last_words == "out of order, (left out)"
    target = HookTarget.objects.get()
    assert not target.is_active
    assert "10 tries failed" in target.stopped_why
    with clock.standing_at(now):
        run_due_jobs()
    assert [letter.to for letter in mail.outbox] == [["odalys@marrowlane.example"]]
    assert target.stopped_why in mail.outbox[0].body


def test_timestamp_is_that_of_the_try(receiver: Receiver, make_listener: Listen) -> None:
    receiver.status = 500
    start(receiver, make_listener)
    run_due_jobs()
    with clock.standing_at(clock.now() + datetime.timedelta(seconds=30)):
        run_due_jobs()

    first, second = (int(headers["webhook-timestamp"]) for headers, _ in receiver.got)
    assert second - first >= 29


@pytest.mark.parametrize("status", [200, 201, 202, 204, 299])
def test_any_2xx_is_a_yes(receiver: Receiver, make_listener: Listen, status: int) -> None:
    receiver.status = status
    delivery = start(receiver, make_listener)
    run_due_jobs()
    delivery.refresh_from_db()

    assert (delivery.state, delivery.last_status) == ("sent", status)


@pytest.mark.parametrize("status", [301, 302, 307, 308, 400, 401, 404, 500])
def test_anything_else_is_a_no_and_no_redirect_is_followed(
    receiver: Receiver, make_listener: Listen, status: int
) -> None:
    receiver.status = status
    receiver.headers = {"Location": "/elsewhere"}
    delivery = start(receiver, make_listener)
    run_due_jobs()
    delivery.refresh_from_db()

    assert (delivery.state, delivery.last_status, delivery.attempts) == ("waiting", status, 1)
    assert len(receiver.got) == 1


def test_410_switches_the_target_off_at_once(receiver: Receiver, make_listener: Listen) -> None:
    receiver.status = 410
    delivery = start(receiver, make_listener)
    run_due_jobs()
    delivery.refresh_from_db()

    assert delivery.state == "given_up"
    assert not HookTarget.objects.get().is_active


@pytest.mark.parametrize("status", [429, 502, 503, 504])
@pytest.mark.parametrize("is_date", [False, True])
def test_receiver_that_asks_for_time_gets_it(
    receiver: Receiver, make_listener: Listen, status: int, is_date: bool
) -> None:
    """Every delivery to it waits, and a wait is no try."""
    now = clock.now().replace(microsecond=0)
    until = now + datetime.timedelta(hours=2)
    receiver.status = status
    receiver.headers = {"Retry-After": format_datetime(until, usegmt=True) if is_date else "7200"}
    with clock.standing_at(now):
        first = start(receiver, make_listener)
        run_due_jobs()
        second = send_test(first.target)
        run_due_jobs()
    first.refresh_from_db()
    second.refresh_from_db()

    assert len(receiver.got) == 1
    assert first.due_at == second.due_at == until
    assert second.attempts == 0


def test_slow_answer_without_a_time_puts_off_by_a_minute(
    receiver: Receiver, make_listener: Listen
) -> None:
    receiver.status = 503
    receiver.headers = {"Retry-After": "soon"}
    now = clock.now()
    with clock.standing_at(now):
        delivery = start(receiver, make_listener)
        run_due_jobs()
    delivery.refresh_from_db()

    assert delivery.due_at == now + datetime.timedelta(seconds=60)


def test_flapping_receiver_gets_everything_in_the_end(
    receiver: Receiver, make_listener: Listen
) -> None:
    target = make_listener(receiver.url)
    deliveries = [send_test(target) for _ in range(6)]
    now = clock.now()
    for tries in range(4):
        receiver.status = 500 if tries % 2 == 0 else 204
        now += datetime.timedelta(hours=3)
        with clock.standing_at(now):
            run_due_jobs()

    assert set(HookDelivery.objects.values_list("state", flat=True)) == {"sent"}
    assert set(receiver.ids) == {delivery.webhook_id for delivery in deliveries}
    assert HookTarget.objects.get().failing_since is None


def test_receiver_that_is_away_is_tried_again(make_listener: Listen, settings: Any) -> None:
    settings.INSIDE_HOSTS = ["127.0.0.1"]
    with serving(lambda handler: None) as port:
        pass
    delivery = send_test(make_listener(f"http://127.0.0.1:{port}/hook"))
    run_due_jobs()
    delivery.refresh_from_db()

    assert (delivery.state, delivery.last_status) == ("waiting", None)
    assert "did not answer" in delivery.last_words


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "[::1]", "10.0.0.7"])
def test_nothing_is_sent_into_the_desks_own_network(
    make_listener: Listen, settings: Any, host: str
) -> None:
    settings.INSIDE_HOSTS = []
    delivery = send_test(make_listener(f"https://{host}/hook"))
    run_due_jobs()
    delivery.refresh_from_db()

    assert "not on the open network" in delivery.last_words


def test_nothing_is_sent_without_tls(make_listener: Listen) -> None:
    delivery = send_test(make_listener("http://bot.marrowlane.example/hook"))
    run_due_jobs()
    delivery.refresh_from_db()

    assert "https" in delivery.last_words


def test_delivery_held_by_another_process_is_not_sent_twice(
    receiver: Receiver, make_listener: Listen
) -> None:
    delivery = start(receiver, make_listener)
    HookDelivery.objects.update(
        state="sending", held_until=clock.now() + datetime.timedelta(seconds=60)
    )

    with pytest.raises(StillSendingError):
        deliver(delivery.pk)

    assert receiver.got == []


def test_resent_message_has_the_body_of_the_first(case: Case, receiver: Receiver) -> None:
    """The private page's address is made once, so a receiver may compare."""
    (delivery,) = HookDelivery.objects.filter(kind="report.received")
    HookDelivery.objects.filter(pk=delivery.pk).update(state="waiting")
    deliver(delivery.pk)
    bodies = {
        body for headers, body in receiver.got if headers["webhook-id"] == delivery.webhook_id
    }

    assert len([i for i in receiver.ids if i == delivery.webhook_id]) == 2
    assert len(bodies) == 1


def test_private_link_is_not_kept_in_the_log(case: Case) -> None:
    (delivery,) = HookDelivery.objects.filter(kind="report.received")

    assert "/t/" not in delivery.body
    assert "{private_link}" in delivery.body


def test_delivery_can_be_sent_again_under_its_id(receiver: Receiver, make_listener: Listen) -> None:
    delivery = start(receiver, make_listener)
    run_due_jobs()
    replay(delivery.pk)
    with pytest.raises(WrongStateError, match="on its way"):
        replay(delivery.pk)
    run_due_jobs()

    assert receiver.ids == [delivery.webhook_id] * 2


def test_range_of_given_up_deliveries_can_be_sent_again(
    receiver: Receiver, make_listener: Listen
) -> None:
    target = make_listener(receiver.url)
    deliveries = [send_test(target) for _ in range(3)]
    switch_target(target.pk, is_active=False)
    run_due_jobs()
    assert receiver.got == []
    switch_target(target.pk, is_active=True)
    target.refresh_from_db()

    now = clock.now()
    count = replay_range(
        target, since=now - datetime.timedelta(hours=1), until=now, only_given_up=True
    )
    run_due_jobs()

    assert count == 3
    assert receiver.ids == [delivery.webhook_id for delivery in deliveries]


def test_nothing_goes_out_about_an_erased_person(case: Case, receiver: Receiver) -> None:
    erase(case.pk)
    before = len(receiver.got)
    work_off()

    assert len(receiver.got) == before
    assert not HookDelivery.objects.exclude(case=None).exists()
