"""One timeline over all channels, with what became of each delivery."""

import datetime
import re
from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.answers.services import draft_answer, send_answer
from helpdesk.cases.models import Case, Channel
from helpdesk.cases.services import add_note, record_outcome
from helpdesk.conversation.timeline import get_timeline
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.core.models import Job, JobState
from helpdesk.incoming.services import send_receipt, take_reply
from helpdesk.outbox import deliveries
from helpdesk.outbox.deliveries import Delivery, delivery_source
from helpdesk.outbox.marks import is_undeliverable
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.services import note_undelivered
from helpdesk.review.services import ask_person
from tests.factories import make_case

LogIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db


def _said(case: Case) -> list[tuple[str, str, str]]:
    return [(entry.what, entry.side, entry.channel) for entry in get_timeline(case)]


def _answer(case: Case, reviewer: User, via: str) -> None:
    draft = draft_answer(case, reviewer)
    send_answer(draft.pk, draft.version, reviewer, via)


def _panel(client: Client, case: Case) -> str:
    address = reverse("conversation:conversation", args=[case.pk])
    return client.get(address, headers={"HX-Request": "true"}).content.decode()


def test_everything_said_by_mail_stands_in_order_with_its_channel(reviewer: User) -> None:
    """Report, receipt, question, reply, answer, outcome and note, each by its route."""
    case = make_case(channel=Channel.MAIL)
    send_receipt(case)
    ask_person(case, [], words="Is the plate clean?", actor=reviewer)
    take_reply(case.pk, key="mail:1", words="Yes, it is.", channel=Channel.MAIL)
    case.refresh_from_db()
    _answer(case, reviewer, Channel.MAIL)
    add_note(case, body="Seen on the bench.", author=reviewer)
    case.refresh_from_db()
    record_outcome(case, result="worked", words="All flat now.")

    assert _said(case) == [
        ("Report", "person", "mail"),
        ("Receipt", "desk", "mail"),
        ("Question", "desk", "mail"),
        ("Reply", "person", "mail"),
        ("Answer", "desk", "mail"),
        ("Note between us", "internal", ""),
        ("Outcome: Worked", "person", ""),
    ]


@pytest.mark.parametrize("channel", [Channel.CHAT, Channel.DIRECT, Channel.SOCIAL, Channel.PERSON])
def test_what_is_copied_into_another_channel_says_which(reviewer: User, channel: Channel) -> None:
    """Question, reply and answer go the way the person came."""
    case = make_case(email="", handle="kiln", channel=channel, reply_channel=channel)
    asked = ask_person(case, [], words="Is the plate clean?", actor=reviewer)
    take_reply(case.pk, key="paste:1", words="Yes.", channel=channel)
    case.refresh_from_db()
    _answer(case, reviewer, channel)

    assert asked.text
    assert [entry[2] for entry in _said(case)] == [channel] * 4


def test_reply_on_the_private_page_came_by_the_web(reviewer: User) -> None:
    """A question by mail may be answered by link."""
    case = make_case(channel=Channel.MAIL)
    ask_person(case, [], words="Is the plate clean?", actor=reviewer)
    take_reply(case.pk, key="form:1", words="Yes.", channel=Channel.WEB)

    assert _said(case)[1:] == [("Question", "desk", "mail"), ("Reply", "person", "web")]


def test_letter_stands_below_the_words_it_carried(reviewer: User) -> None:
    """Waiting, then sent, then not delivered, on the question itself."""
    case = make_case()
    ask_person(case, [], words="Is the plate clean?", actor=reviewer)
    states = []

    def look() -> None:
        [question] = [entry for entry in get_timeline(case) if entry.what == "Question"]
        [sending] = question.sendings
        states.append((sending.state, sending.words))

    look()
    run_due_jobs()
    look()
    mail = OutgoingMail.objects.get(kind="question")
    note_undelivered(message_id=mail.message_id, status="5.1.1", words="no such user")
    look()

    assert states == [
        ("waiting", ""),
        ("sent", ""),
        ("not delivered", "5.1.1 no such user"),
    ]


def test_letter_that_fails_and_is_given_up_says_why(reviewer: User) -> None:
    """The mail server's words stand beside the state."""
    case = make_case()
    ask_person(case, [], words="Is the plate clean?", actor=reviewer)
    jobs = Job.objects.filter(kind="send-mail")
    jobs.update(last_error="The mail server answered 451")

    failing = get_timeline(case)[-1].sendings[0]
    jobs.update(state=JobState.FAILED)
    given_up = get_timeline(case)[-1].sendings[0]

    assert (failing.state, failing.words) == ("failing", "The mail server answered 451")
    assert given_up.state == "given up"


def test_other_routes_stand_below_what_they_carried(
    reviewer: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A program's delivery belongs to the answer it carried; one without words stands alone."""
    monkeypatch.setattr(deliveries, "_sources", {})
    case = make_case(email="", handle="kiln", channel="chat", reply_channel="chat")
    _answer(case, reviewer, Channel.CHAT)
    now = clock.now()

    @delivery_source("program")
    def source(found: Case) -> list[Delivery]:
        assert found == case
        late = now + datetime.timedelta(hours=1)
        return [
            Delivery(at=now, channel="chat", what="answer", state="failing", words="503"),
            Delivery(at=late, channel="chat", what="told of the show", state="sent"),
        ]

    answer, alone = get_timeline(case)[1:]
    assert answer.what == "Answer"
    assert [(s.state, s.words) for s in answer.sendings] == [("failing", "503")]
    assert (alone.what, alone.sendings[0].state) == ("Told of the show", "sent")


def test_panel_tells_what_to_do_about_a_lost_letter_and_sends_it_again(
    reviewer: User, as_user: LogIn
) -> None:
    """The mark on the address goes with the press, and the notice once the letter is under way."""
    case = make_case()
    ask_person(case, [], words="Is the plate clean?", actor=reviewer)
    mail = OutgoingMail.objects.get(kind="question")
    run_due_jobs()
    note_undelivered(message_id=mail.message_id, status="5.1.1", words="no such user")
    client = as_user(reviewer)

    before = _panel(client, case)
    address = reverse("conversation:send_again", args=[case.pk, mail.pk])
    client.post(address)
    client.post(address)

    assert "A letter was not delivered" in before
    assert address in before
    assert OutgoingMail.objects.filter(kind="question").count() == 2
    assert not is_undeliverable(case)
    assert "A letter was not delivered" not in _panel(client, case)


def test_letter_that_arrived_is_not_sent_again_by_hand(reviewer: User, as_user: LogIn) -> None:
    """Only what did not arrive can be."""
    case = make_case()
    ask_person(case, [], words="Is the plate clean?", actor=reviewer)
    mail = OutgoingMail.objects.get(kind="question")

    address = reverse("conversation:send_again", args=[case.pk, mail.pk])

    assert as_user(reviewer).post(address).status_code == 404


def test_producer_sees_the_conversation_and_sends_nothing(
    producer: User, reviewer: User, as_user: LogIn
) -> None:
    """Producing is no reviewing."""
    case = make_case()
    ask_person(case, [], words="Is the plate clean?", actor=reviewer)
    mail = OutgoingMail.objects.get(kind="question")
    note_undelivered(message_id=mail.message_id, status="5.1.1", words="no such user")
    client = as_user(producer)

    assert "Is the plate clean?" in _panel(client, case)
    assert "Send it again" not in _panel(client, case)
    again = reverse("conversation:send_again", args=[case.pk, mail.pk])
    assert client.post(again).status_code == 403


def test_words_of_a_person_are_escaped_and_long_ones_folded(reviewer: User, as_user: LogIn) -> None:
    """Nobody's words become part of the page."""
    case = make_case()
    words = "<script>alert(1)</script> " + "so much to tell " * 80
    take_reply(case.pk, key="form:1", words=words, channel=Channel.WEB)

    panel = _panel(as_user(reviewer), case)

    assert "<script>alert" not in panel
    assert re.search(r"<summary[^>]*>&lt;script&gt;", panel)


def test_many_entries_cost_the_same_queries(reviewer: User, as_user: LogIn) -> None:
    """The panel folds the earlier ones."""
    case = make_case()
    client = as_user(reviewer)

    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            _panel(client, case)
        return len(seen)

    ask_person(case, [], words="Question?", actor=reviewer)
    count()
    few = count()
    for number in range(30):
        take_reply(case.pk, key=f"k{number}", words=f"Reply {number}", channel=Channel.CHAT)
        ask_person(case, [], words=f"Question {number}?", actor=reviewer)

    assert count() == few
    assert "earlier</summary>" in _panel(client, case)
