"""The answer of a lead case reaches everybody who reported the print, and nobody twice."""

import pytest

from helpdesk.answers.joined import describe_passing, list_waiting
from helpdesk.answers.models import Answer
from helpdesk.answers.services import (
    DraftText,
    draft_answer,
    offer_answer,
    send_answer,
    take_back_offer,
)
from helpdesk.cases.joining import join_cases, part_case
from helpdesk.cases.models import CaseState, Channel, OutcomeResult
from helpdesk.cases.services import record_outcome
from helpdesk.outbox.models import MailKind, OutgoingMail
from tests.factories import make_case
from tests.helpdesk.answers.conftest import confirm

pytestmark = pytest.mark.django_db


def _join(lead, **fields):
    values = {"person_name": "Sorrel Adeyemi", "email": "sorrel@millrace.example"}
    joined = make_case(**(values | fields))
    join_cases(joined, into=lead)
    return joined


def _send(case, reviewer, text=None):
    draft = draft_answer(case, reviewer)
    sent = send_answer(draft.pk, draft.version, reviewer, Channel.MAIL, text=text)
    case.refresh_from_db()
    return sent


def _letters(*cases):
    found = OutgoingMail.objects.filter(kind=MailKind.ANSWER, case__in=cases)
    return sorted(found.values_list("case", "to"))


def test_an_answer_goes_to_each_joined_person_in_their_own_words(case, reviewer):
    confirm(case, "draughty-room")
    joined = _join(case)

    sent = _send(case, reviewer)

    copy = Answer.objects.get(case=joined)
    assert _letters(case, joined) == [(case.pk, case.email), (joined.pk, joined.email)]
    assert copy.copy_of == sent
    assert copy.sent_text.startswith("Hello Sorrel,\n\nthank you for showing us your print. Some")
    assert "Bettine" not in copy.sent_text
    assert "Plastic shrinks as it cools" in copy.sent_text
    assert copy.actions == sent.actions
    joined.refresh_from_db()
    assert joined.state == CaseState.ANSWERED
    assert joined.follow_up_on == case.follow_up_on
    assert "One case joined to this one has it, too." in describe_passing(case)
    assert not list_waiting(case)


def test_nobody_is_answered_twice(case, reviewer):
    """Two reports of one address, whatever its capitals, and one handle twice: one letter each."""
    same = _join(case, email=case.email.upper())
    first = _join(case)
    again = _join(case, email="Sorrel@Millrace.example")

    _send(case, reviewer)

    assert _letters(case, same, first, again) == [(case.pk, case.email), (first.pk, first.email)]
    for shown in (same, again):
        shown.refresh_from_db()
        assert (shown.state, shown.follow_up_on) == (CaseState.ANSWERED, None)
        assert Answer.objects.get(case=shown).sent_text
        assert shown.events.filter(kind="answer_shown").exists()


def test_an_answer_that_no_program_carries_waits_for_a_hand(case, reviewer):
    joined = _join(case, email="", handle="@sorrel", reply_channel=Channel.CHAT)

    _send(case, reviewer)

    (waiting,) = list_waiting(case)
    assert waiting.case == joined
    assert waiting.draft is not None
    assert waiting.draft.body.startswith("Hello Sorrel,")
    assert "waits for you to pass it on" in describe_passing(case)
    send_answer(waiting.draft.pk, waiting.draft.version, reviewer, Channel.CHAT)
    assert not list_waiting(case)


def test_an_answer_that_names_the_first_person_waits_for_a_look(case, reviewer):
    joined = _join(case)
    body = draft_answer(case, reviewer).body + "\n\nBettine, your plate looks fine to us."

    _send(case, reviewer, DraftText(body=body))

    assert _letters(case, joined) == [(case.pk, case.email)]
    (waiting,) = list_waiting(case)
    assert waiting.case == joined
    assert joined.events.filter(kind="draft", why__startswith="It may name").exists()


def test_a_danger_of_one_report_stands_in_every_answer(case, reviewer, set_view):
    set_view(danger=True)
    joined = _join(case)

    _send(case, reviewer)

    assert "unplug the printer" in Answer.objects.get(case=joined).sent_text


def test_who_was_answered_before_is_left_alone(case, reviewer):
    joined = _join(case)
    part_case(joined)
    _send(joined, reviewer)
    join_cases(joined, into=case)

    _send(case, reviewer)

    assert Answer.objects.filter(case=joined).count() == 1
    assert not list_waiting(case)


def test_a_further_answer_goes_to_everybody_again(case, reviewer):
    """A failure told by one brings the lead back, and what is advised next is told to both."""
    joined = _join(case)
    _send(case, reviewer)
    joined.refresh_from_db()
    record_outcome(joined, result=OutcomeResult.DID_NOT_WORK)
    case.refresh_from_db()
    assert case.state == CaseState.RECEIVED

    _send(case, reviewer)

    assert len(_letters(joined)) == 2


def test_joining_to_an_answered_case_offers_its_answer_and_sends_nothing(case, reviewer):
    _send(case, reviewer)
    joined = _join(case)

    draft = offer_answer(joined, actor=reviewer)

    assert draft is not None
    assert draft.sent_at is None
    assert not _letters(joined)
    assert [waiting.case for waiting in list_waiting(case)] == [joined]
    take_back_offer(joined)
    assert not Answer.objects.filter(case=joined).exists()


def test_a_draft_that_stood_there_comes_back(case, reviewer):
    joined = _join(case, email="", handle="sorrel", reply_channel=Channel.DIRECT)
    own = draft_answer(joined, reviewer)

    _send(case, reviewer)
    assert Answer.objects.get(pk=own.pk).previous_body == own.body
    take_back_offer(joined)

    again = Answer.objects.get(pk=own.pk)
    assert (again.body, again.copy_of) == (own.body, None)


def test_a_sent_answer_stays_with_the_parted_case(case, reviewer):
    joined = _join(case)
    _send(case, reviewer)

    part_case(joined)

    joined.refresh_from_db()
    assert joined.state == CaseState.ANSWERED
    assert joined.answers.filter(sent_at__isnull=False).count() == 1
