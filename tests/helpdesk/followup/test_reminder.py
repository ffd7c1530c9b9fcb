"""One reminder after a second interval, then the end; nobody is asked twice of one print."""

from typing import Any

import pytest

from helpdesk.accounts.models import User
from helpdesk.cases.joining import join_cases
from helpdesk.cases.models import Case, CaseState, Channel, MessageKind
from helpdesk.cases.outcomes import tap_outcome
from helpdesk.cases.services import change_state
from helpdesk.followup.selectors import LOST, UNWANTED, describe_due, list_due_by_hand
from helpdesk.followup.services import (
    ask_due_cases,
    close_silent_cases,
    close_unheard_cases,
    let_rest,
    mark_asked,
)
from helpdesk.incoming.services import take_reply
from helpdesk.outbox.marks import hash_address
from helpdesk.outbox.models import AddressMark, OutgoingMail
from tests.helpdesk.followup.cases import answered, on_day

pytestmark = pytest.mark.django_db
DAYS = (13, 14, 15, 27, 28, 29, 41, 42, 60, 90)


@pytest.fixture(autouse=True)
def intervals(settings: Any) -> None:
    """Ask after 14 days, again after 14, close after 14 more."""
    settings.FOLLOW_UP_DAYS = settings.REMIND_DAYS = settings.UNKNOWN_DAYS = 14
    settings.CLOSE_SILENT_DAYS = 60


def _run(days: tuple[int, ...] = DAYS) -> tuple[dict[int, int], list[int]]:
    """Let the rounds run on some days; return the letters by day and the days of closing."""
    asked, closed = {}, []
    for day in days:
        with on_day(day):
            if count := ask_due_cases():
                asked[day] = count
            closed += [day] * close_unheard_cases()
    return asked, closed


def test_silence_is_asked_twice_and_closed_as_unknown() -> None:
    """Day 14, day 28, and on day 42 it is over; the history says why."""
    case = answered()

    asked, closed = _run()

    case.refresh_from_db()
    assert asked == {14: 1, 28: 1}
    assert closed == [42]
    assert case.state == CaseState.CLOSED
    assert case.events.get(kind="outcome_unknown").data == {"asked": 2}
    why = case.events.filter(kind="state").latest("pk").why
    assert why.startswith("Asked twice how it went, last on 29 October 2026")
    assert [a.number for a in case.askings.all()] == [1, 2]
    assert not case.outcomes.exists()
    subjects = list(OutgoingMail.objects.order_by("pk").values_list("subject", flat=True))
    assert [s.split("?")[0] for s in subjects if "did it go" in s] == [
        "How did it go",
        "Once more: how did it go",
    ]


def test_no_reminder_where_none_is_set(settings: Any) -> None:
    """Without a second interval the end comes after the one question."""
    settings.REMIND_DAYS = 0
    case = answered()

    assert _run() == ({14: 1}, [28])
    assert case.events.get(kind="outcome_unknown").data == {"asked": 1}


def test_cases_stay_open_where_closing_is_off(settings: Any) -> None:
    """Zero days close nothing as unknown."""
    settings.UNKNOWN_DAYS = 0
    answered()

    assert _run() == ({14: 1, 28: 1}, [])


@pytest.mark.parametrize("result", ["worked", "partly", "failed", "gave_up"])
def test_whoever_told_is_not_reminded(result: str) -> None:
    """One word is enough, and the case is not closed as unknown."""
    case = answered()
    _run((14,))
    with on_day(20):
        tap_outcome(case.pk, result=result)

    assert _run((28, 42, 60)) == ({}, [])
    assert not case.events.filter(kind="outcome_unknown").exists()


def test_whoever_has_not_tried_is_reminded_and_never_called_silent() -> None:
    """They answered; they have only not come to it."""
    case = answered()
    _run((14,))
    with on_day(20):
        tap_outcome(case.pk, result="untried")

    assert _run((28, 42, 60)) == ({28: 1}, [])
    case.refresh_from_db()
    assert case.state == CaseState.ANSWERED


def test_a_reply_stops_the_asking_and_a_new_answer_begins_it_anew() -> None:
    """The second answer has two askings of its own."""
    case = answered()
    _run((14,))
    with on_day(20):
        take_reply(case.pk, key="mail:1", words="Still drying it.", channel=Channel.MAIL)
    assert _run((28, 42)) == ({}, [])

    with on_day(43):
        case.refresh_from_db()
        change_state(case, CaseState.ANSWERED)
        Case.objects.filter(pk=case.pk).update(follow_up_on="2026-11-20")
    assert _run((50, 64, 78)) == ({50: 1, 64: 1}, [78])


@pytest.mark.parametrize(("result", "state"), [("failed", "received"), ("worked", "closed")])
def test_late_word_after_the_end_is_kept(result: str, state: str) -> None:
    """An outcome opens a case closed as unknown, or is recorded on it."""
    case = answered()
    _run()
    with on_day(100):
        tap_outcome(case.pk, result=result)

    case.refresh_from_db()
    assert case.state == state
    assert case.outcomes.get().result == result


def test_late_reply_opens_what_was_closed_as_unknown() -> None:
    """Words by mail bring it back to the bench."""
    case = answered()
    _run()
    with on_day(100):
        take_reply(case.pk, key="mail:2", words="It is back.", channel=Channel.MAIL)

    case.refresh_from_db()
    assert case.state == CaseState.RECEIVED


@pytest.mark.parametrize(
    ("field", "words"), [("undeliverable_at", LOST), ("unsubscribed_at", UNWANTED)]
)
def test_refusing_address_is_not_written_to_but_stays_on_the_list(field: str, words: str) -> None:
    """A reviewer sees whom the desk cannot ask, and why; others get their letters."""
    lost, fine = answered(), answered(email="callum@tarnstreet.example")
    with on_day(1):
        moment = lost.waiting_since
        AddressMark.objects.create(address_hash=hash_address(lost.email), **{field: moment})

    with on_day(14):
        assert ask_due_cases() == 1
        listed = list(list_due_by_hand())
        assert listed == [lost]
        assert describe_due(listed)[0].why_by_hand == words
    letters = OutgoingMail.objects.filter(kind="follow_up")
    assert [letter.case for letter in letters] == [fine]


def test_reviewer_asks_twice_by_hand_and_the_end_is_the_same(reviewer: User) -> None:
    """A chat has the same two questions; the words of the second say so."""
    case = answered(email="", reply_channel=Channel.CHAT, handle="kiln")
    for day in (14, 28):
        with on_day(day):
            assert list(list_due_by_hand()) == [case]
            mark_asked(case.pk, reviewer)
            mark_asked(case.pk, reviewer)
            assert list(list_due_by_hand()) == []

    bodies = [m.body for m in case.messages.filter(kind=MessageKind.FOLLOW_UP)]
    assert len(bodies) == 2
    assert "we do not ask again" in bodies[1]
    assert _run((41, 42)) == ({}, [42])


def test_case_left_in_peace_is_not_asked(reviewer: User) -> None:
    """It leaves the list, is not called asked, and closes by silence alone."""
    case = answered(email="", reply_channel=Channel.CHAT)
    with on_day(14):
        let_rest(case.pk, reviewer)
        assert list(list_due_by_hand()) == []

    assert not case.askings.exists()
    assert _run((28, 42)) == ({}, [])
    with on_day(61):
        assert close_silent_cases() == 1


def test_person_of_joined_cases_is_asked_once() -> None:
    """Two reports of one person about one print: one question, one reminder, both noted."""
    lead, twin = answered(), answered(email="Bettine@TarnStreet.example")
    other = answered(email="callum@tarnstreet.example", person_name="Callum Reyes")
    for case in (twin, other):
        join_cases(case, into=lead)

    asked, closed = _run()

    assert asked == {14: 2, 28: 2}
    letters = OutgoingMail.objects.filter(kind="follow_up").values_list("to", flat=True)
    assert sorted(letters) == ["bettine@tarnstreet.example"] * 2 + ["callum@tarnstreet.example"] * 2
    assert [a.along_with for a in twin.askings.all()] == [lead, lead]
    assert closed == [42, 42, 42]


def test_person_who_told_of_one_case_is_not_asked_of_its_twin() -> None:
    """Their word about the print is their word."""
    lead, twin = answered(), answered()
    join_cases(twin, into=lead)
    with on_day(3):
        tap_outcome(lead.pk, result="worked")

    assert _run((14, 28)) == ({}, [])
    twin.refresh_from_db()
    assert twin.follow_up_on is None
    assert twin.events.filter(what=f"Not asked: told about case {lead.pk}").count() == 1


def test_twin_by_another_channel_is_covered_by_handle(reviewer: User) -> None:
    """Asked in the chat, the same handle is not asked again for its other report."""
    same = {"email": "", "reply_channel": Channel.CHAT, "handle": "@kiln", "handle_where": "chat"}
    lead, twin = answered(**same), answered(**{**same, "handle": "kiln"})
    join_cases(twin, into=lead)

    with on_day(14):
        mark_asked(twin.pk, reviewer)
        assert list(list_due_by_hand()) == []
    assert lead.askings.get().along_with == twin
