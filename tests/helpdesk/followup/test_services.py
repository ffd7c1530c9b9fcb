"""Asking how it went: by the person's own channel, once more, and never for ever."""

import datetime
from typing import Any

import pytest
from django.core import mail as mailbox

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case, CaseState, Channel, MessageKind
from helpdesk.cases.services import add_message, add_note, change_state, record_outcome
from helpdesk.core import clock
from helpdesk.core.errors import WrongStateError
from helpdesk.core.jobs import run_job
from helpdesk.core.models import Job
from helpdesk.followup.links import SAYINGS, link_to_tell
from helpdesk.followup.selectors import list_due_by_hand
from helpdesk.followup.services import (
    ask_due_cases,
    close_silent_cases,
    mark_asked,
)
from helpdesk.followup.tasks import ask_round, close_round, close_unheard_round
from helpdesk.outbox.models import OutgoingMail
from tests.factories import make_case


def _answered(*, days_ago: int = 14, due: int | None = 0, **fields: Any) -> Case:
    """Make a case answered some days ago; `due` counts days from today, None means not planned."""
    case = make_case(**fields)
    then = clock.now() - datetime.timedelta(days=days_ago)
    change_state(case, CaseState.ANSWERED, at=then)
    if due is not None:
        case.follow_up_on = clock.today() + datetime.timedelta(days=due)
        case.save(update_fields=["follow_up_on"])
    return case


def _letters() -> int:
    return OutgoingMail.objects.filter(kind="follow_up").count()


@pytest.mark.django_db
def test_due_case_is_asked_once_by_mail(settings: Any) -> None:
    """However often the round comes, there is one letter, one message, one event."""
    case = _answered()

    asked = [ask_due_cases() for _ in range(3)]

    case.refresh_from_db()
    assert asked == [1, 0, 0]
    assert case.follow_up_on == clock.today() + datetime.timedelta(days=settings.REMIND_DAYS)
    assert case.state == CaseState.ANSWERED
    assert _letters() == 1
    assert case.messages.filter(kind=MessageKind.FOLLOW_UP).count() == 1
    assert case.events.filter(kind="follow_up", what="Asked how it went").count() == 1


@pytest.mark.django_db
def test_letter_offers_one_line_choices_and_the_private_page() -> None:
    """What goes out is answered with one press, and machines do not answer it."""
    case = _answered(title="Leaning rook")
    ask_due_cases()

    run_job(Job.objects.get(kind="send-mail").pk)

    [letter] = mailbox.outbox
    assert "Hello Bettine" in letter.body
    assert "“Leaning rook”" in letter.body
    for result, words in SAYINGS.items():
        assert f"- {words}: {link_to_tell(case, result)}" in letter.body
    assert "http://testserver/t/" in letter.body
    assert "we ask once more, and then no longer" in letter.body
    assert letter.extra_headers["Auto-Submitted"] == "auto-generated"


@pytest.mark.django_db
@pytest.mark.parametrize("due", [1, 30, None])
def test_case_that_is_not_due_is_not_asked(due: int | None) -> None:
    """Nobody is asked before the day a reviewer set."""
    _answered(due=due)

    assert ask_due_cases() == 0


@pytest.mark.django_db
def test_case_without_mail_stays_due_for_a_reviewer() -> None:
    """The desk cannot write there, so the case stays on the list."""
    chat = _answered(reply_channel=Channel.CHAT, email="", handle="bettine-prints")
    prefers_chat = _answered(reply_channel=Channel.CHAT)

    assert ask_due_cases() == 0
    assert list(list_due_by_hand()) == [chat, prefers_chat]


@pytest.mark.django_db
def test_reviewer_who_asked_is_noted_once(reviewer: User) -> None:
    """A double click is one event."""
    case = _answered(reply_channel=Channel.CHAT, email="")

    mark_asked(case.pk, reviewer)
    mark_asked(case.pk, reviewer)

    event = case.events.get(kind="follow_up")
    assert event.actor == reviewer
    assert list(list_due_by_hand()) == []


@pytest.mark.django_db
def test_case_that_came_back_is_not_marked_as_asked(reviewer: User) -> None:
    """Somebody wrote meanwhile: there is nothing to ask."""
    case = _answered(reply_channel=Channel.CHAT, email="")
    change_state(case, CaseState.RECEIVED)

    with pytest.raises(WrongStateError):
        mark_asked(case.pk, reviewer)


@pytest.mark.django_db
def test_silent_case_is_closed_and_the_record_says_why(settings: Any) -> None:
    """After sixty days without a word the case leaves the queue; nobody is written to."""
    settings.CLOSE_SILENT_DAYS = 60
    silent = _answered(days_ago=61, due=None)
    recent = _answered(days_ago=59, due=None)

    closed = close_silent_cases()

    silent.refresh_from_db()
    recent.refresh_from_db()
    assert closed == 1
    assert (silent.state, recent.state) == (CaseState.CLOSED, CaseState.ANSWERED)
    assert "No word for 60 days" in silent.events.get(kind="state", what="Closed").why
    assert _letters() == 0


@pytest.mark.django_db
def test_words_of_the_person_keep_a_case_open_and_notes_do_not(
    settings: Any, reviewer: User
) -> None:
    """A reply or an outcome is a word; what reviewers note among themselves is none."""
    settings.CLOSE_SILENT_DAYS = 60
    wrote, said, noted = (_answered(days_ago=90, due=None) for _ in range(3))
    add_message(wrote, kind=MessageKind.REPLY, body="Still drying it.")
    record_outcome(said, result="untried")
    add_note(noted, body="Quiet.", author=reviewer)

    assert close_silent_cases() == 1
    noted.refresh_from_db()
    assert noted.state == CaseState.CLOSED


@pytest.mark.django_db
def test_closing_of_silent_cases_can_be_switched_off(settings: Any) -> None:
    """Zero days leave every case open."""
    settings.CLOSE_SILENT_DAYS = 0
    _answered(days_ago=900, due=None)

    assert close_silent_cases() == 0


@pytest.mark.django_db
def test_rounds_do_nothing_when_nothing_is_due(django_assert_max_num_queries: Any) -> None:
    """An idle desk costs the three rounds a query each."""
    with django_assert_max_num_queries(3):
        ask_round()
        close_unheard_round()
        close_round()
