"""Draft, save and send: cautions stay, texts stay, and nothing is sent twice."""

import datetime

import pytest
from django.conf import settings
from django.core import mail as mailbox

from helpdesk.accounts.models import User
from helpdesk.answers.cautions import read_cautions
from helpdesk.answers.errors import AlreadySentError, CautionsChangedError, StaleAnswerError
from helpdesk.answers.models import Answer
from helpdesk.answers.services import (
    DraftText,
    bring_back_text,
    draft_answer,
    read_letter,
    redraft_answer,
    save_draft,
    send_answer,
)
from helpdesk.cases.models import Case, CaseState, Channel
from helpdesk.cases.services import Consent, change_state, erase_person
from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError, WrongStateError
from helpdesk.core.jobs import run_due_jobs, run_job
from helpdesk.core.models import Job
from helpdesk.outbox.models import OutgoingMail
from tests.factories import make_case
from tests.helpdesk.answers.conftest import SetView, confirm


def test_second_draft_of_a_case_is_the_first(case: Case, reviewer: User, colleague: User) -> None:
    """Two reviewers who ask for a draft get the same one."""
    first = draft_answer(case, reviewer)

    assert draft_answer(case, colleague).pk == first.pk
    assert case.events.filter(kind="draft").count() == 1


def test_save_keeps_text_and_counts_the_version(case: Case, reviewer: User) -> None:
    """A saved draft holds what was typed and who typed it."""
    answer = draft_answer(case, reviewer)

    saved = save_draft(answer.pk, DraftText(body="Hello,\r\n\r\n\r\nnew."), 1, reviewer).answer

    assert (saved.body, saved.version, saved.edited_by) == ("Hello,\n\nnew.", 2, reviewer)


def test_save_at_an_old_version_is_refused_and_shows_the_newer_one(
    case: Case, reviewer: User, colleague: User
) -> None:
    """The second of two reviewers is told, and the first one's text stands."""
    answer = draft_answer(case, reviewer)
    save_draft(answer.pk, DraftText(body="From Teodor."), 1, colleague)

    with pytest.raises(StaleAnswerError) as caught:
        save_draft(answer.pk, DraftText(body="From Imke."), 1, reviewer)

    assert caught.value.current.body == "From Teodor."
    assert caught.value.current.edited_by == colleague


def test_colleagues_text_can_be_brought_back_after_it_was_replaced(
    case: Case, reviewer: User, colleague: User
) -> None:
    """Saving over somebody else's words keeps them beside the draft; over one's own, not."""
    answer = draft_answer(case, reviewer)
    save_draft(answer.pk, DraftText(body="From Teodor."), 1, colleague)
    save_draft(answer.pk, DraftText(body="From Imke."), 2, reviewer)
    save_draft(answer.pk, DraftText(body="From Imke, again."), 3, reviewer)

    back = bring_back_text(answer.pk, 4, reviewer)

    assert (back.body, back.previous_body) == ("From Teodor.", "From Imke, again.")


def test_emptied_danger_is_put_back(case: Case, reviewer: User, set_view: SetView) -> None:
    """Deleting the words of a danger's caution brings the desk's own words back, and says so."""
    set_view(danger=True)
    answer = draft_answer(case, reviewer)

    saved = save_draft(
        answer.pk, DraftText(body="Hello.", wordings={"danger:hot-plug": "  "}), 1, reviewer
    )

    assert [c.id for c in saved.put_in] == ["danger:hot-plug"]
    assert read_letter(saved.answer).dangers == (
        "Please switch off at the wall and unplug the printer now.",
    )


def test_danger_cannot_be_left_out_with_a_reason(
    case: Case, reviewer: User, set_view: SetView
) -> None:
    """A reason is no way round the caution of a danger the desk still sees."""
    set_view(danger=True)
    answer = draft_answer(case, reviewer)

    text = DraftText(
        body="Hello.",
        wordings={"danger:hot-plug": ""},
        reasons={"danger:hot-plug": "they know"},
    )
    saved = save_draft(answer.pk, text, 1, reviewer)

    assert len(read_letter(saved.answer).dangers) == 1


def test_danger_may_be_reworded(case: Case, reviewer: User, set_view: SetView) -> None:
    """The reviewer's own words for a danger are sent, at the top."""
    set_view(danger=True)
    answer = draft_answer(case, reviewer)

    text = DraftText(body="Hello.", wordings={"danger:hot-plug": "Bettine, pull the plug now."})
    saved = save_draft(answer.pk, text, 1, reviewer)

    assert saved.put_in == ()
    assert read_letter(saved.answer).text.startswith(
        "Before anything else: Bettine, pull the plug now."
    )


def test_refuted_danger_may_be_left_out_with_a_reason(
    case: Case, reviewer: User, set_view: SetView
) -> None:
    """Once the desk no longer sees a danger, its caution is an ordinary one."""
    set_view(danger=True)
    answer = draft_answer(case, reviewer)
    set_view(danger=False)

    text = DraftText(body="Hello.", reasons={"danger:hot-plug": "it was another printer's plug"})
    saved = save_draft(answer.pk, text, 1, reviewer)

    assert read_letter(saved.answer).dangers == ()
    event = case.events.get(kind="caution")
    assert event.why == "it was another printer's plug"
    assert event.actor == reviewer


def test_other_caution_goes_only_with_a_recorded_reason(case: Case, reviewer: User) -> None:
    """Emptied it comes back; with a reason it stays out, once recorded."""
    answer = draft_answer(case, reviewer)

    emptied = save_draft(
        answer.pk, DraftText(body="Hello.", wordings={"hot-plate": ""}), 1, reviewer
    )
    reason = {"hot-plate": "their plate has no heater"}
    for version in (2, 3):
        left_out = save_draft(
            answer.pk, DraftText(body="Hello.", reasons=reason), version, reviewer
        )

    assert [c.id for c in emptied.put_in] == ["hot-plate"]
    assert read_letter(emptied.answer).cautions == ("The plate is hot enough to burn.",)
    assert read_letter(left_out.answer).cautions == ()
    assert case.events.filter(kind="caution", why="their plate has no heater").count() == 1


def test_rewriting_the_whole_text_loses_no_caution(
    case: Case, reviewer: User, set_view: SetView
) -> None:
    """The cautions are no part of the text a reviewer edits freely."""
    set_view(danger=True)
    answer = draft_answer(case, reviewer)

    saved = save_draft(answer.pk, DraftText(body="All is well."), 1, reviewer)

    assert saved.put_in == ()
    assert len(read_letter(saved.answer).dangers) == 1
    assert len(read_letter(saved.answer).cautions) == 1


def test_draft_written_anew_keeps_the_text_it_replaces(case: Case, reviewer: User) -> None:
    """A text a person wrote can be brought back, and the exchange undone again."""
    answer = draft_answer(case, reviewer)
    save_draft(answer.pk, DraftText(body="My careful words."), 1, reviewer)
    confirm(case, "loose-belt")

    anew = redraft_answer(answer.pk, 2, reviewer)
    back = bring_back_text(answer.pk, 3, reviewer)

    assert "A belt is slack" in anew.body
    assert back.body == "My careful words."
    assert back.previous_body == anew.body


def test_sending_by_mail_moves_the_case_and_writes_one_letter(case: Case, reviewer: User) -> None:
    """State, day to ask, message, event, letter and index job come in one step."""
    answer = draft_answer(case, reviewer)

    sent = send_answer(answer.pk, 1, reviewer, Channel.MAIL)

    case.refresh_from_db()
    letter = OutgoingMail.objects.get(kind="answer")
    assert case.state == CaseState.ANSWERED
    assert case.follow_up_on == clock.today() + datetime.timedelta(days=settings.FOLLOW_UP_DAYS)
    assert letter.text == sent.sent_text
    assert "{private_link}" in letter.text
    assert "Imke, Marrow Lane Makers’ Room" in letter.text
    assert "{private_link}" not in case.messages.get(kind="answer").body
    assert case.events.filter(kind="answer", actor=reviewer).count() == 1
    assert Job.objects.filter(kind="index-case", key__contains=f"answer:{answer.pk}").count() == 1


def test_sent_letter_goes_out_with_the_private_page(case: Case, reviewer: User) -> None:
    """The job replaces the mark with an address that opens the case."""
    answer = draft_answer(case, reviewer)
    send_answer(answer.pk, 1, reviewer, Channel.MAIL)

    run_job(Job.objects.get(kind="send-mail").pk)

    [letter] = mailbox.outbox
    assert letter.to == ["bettine@tarnstreet.example"]
    assert "http://testserver/t/" in letter.body
    assert "{private_link}" not in letter.body


def test_answer_is_sent_once_however_often_it_is_pressed(
    case: Case, reviewer: User, colleague: User
) -> None:
    """A double click and a colleague at the same moment are one letter."""
    answer = draft_answer(case, reviewer)
    send_answer(answer.pk, 1, reviewer, Channel.MAIL, text=DraftText(body="Hello."))

    for person in (reviewer, colleague):
        with pytest.raises(AlreadySentError) as caught:
            send_answer(answer.pk, 1, person, Channel.MAIL, text=DraftText(body="Hello."))
        assert caught.value.answer.sent_by == reviewer

    assert OutgoingMail.objects.filter(kind="answer").count() == 1
    assert case.messages.filter(kind="answer").count() == 1


def test_sending_an_outdated_text_is_refused(case: Case, reviewer: User, colleague: User) -> None:
    """What a reviewer has not seen is not sent in their name."""
    answer = draft_answer(case, reviewer)
    save_draft(answer.pk, DraftText(body="Changed."), 1, colleague)

    with pytest.raises(StaleAnswerError):
        send_answer(answer.pk, 1, reviewer, Channel.MAIL)

    assert not OutgoingMail.objects.filter(kind="answer").exists()


def test_danger_found_meanwhile_stops_the_sending(
    case: Case, reviewer: User, set_view: SetView
) -> None:
    """The draft was written before the danger: it gets the caution and is read again first."""
    answer = draft_answer(case, reviewer)
    set_view(danger=True)

    with pytest.raises(CautionsChangedError) as caught:
        send_answer(answer.pk, 1, reviewer, Channel.MAIL, text=DraftText(body="My words."))
    kept = Answer.objects.get(pk=answer.pk)
    send_answer(answer.pk, kept.version, reviewer, Channel.MAIL)

    assert [c.id for c in caught.value.cautions] == ["danger:hot-plug"]
    assert kept.body == "My words."
    assert read_cautions(kept.cautions)[0].is_danger
    assert OutgoingMail.objects.get(kind="answer").text.startswith("Before anything else: ")


def test_sending_with_an_emptied_caution_saves_and_does_not_send(
    case: Case, reviewer: User
) -> None:
    """The words typed are kept, the caution is back, and nothing went out."""
    answer = draft_answer(case, reviewer)

    with pytest.raises(CautionsChangedError):
        send_answer(
            answer.pk,
            1,
            reviewer,
            Channel.MAIL,
            text=DraftText(body="My words.", wordings={"hot-plate": ""}),
        )

    kept = Answer.objects.get(pk=answer.pk)
    assert (kept.body, kept.sent_at) == ("My words.", None)
    assert not OutgoingMail.objects.filter(kind="answer").exists()


def test_answer_passed_on_elsewhere_writes_no_letter(case: Case, reviewer: User) -> None:
    """What was copied is kept as sent, in the pieces it was sent in."""
    answer = draft_answer(case, reviewer)
    save_draft(answer.pk, DraftText(body=answer.body, length_limit=200), 1, reviewer)

    sent = send_answer(answer.pk, 2, reviewer, Channel.CHAT, follow_up_days=5)

    case.refresh_from_db()
    assert sent.sent_via == Channel.CHAT
    assert sent.sent_text.startswith("(1/")
    assert "{private_link}" not in sent.sent_text
    assert not OutgoingMail.objects.filter(kind="answer").exists()
    assert case.follow_up_on == clock.today() + datetime.timedelta(days=5)


def test_no_mail_without_an_address(reviewer: User, set_view: SetView) -> None:
    """Sending by mail needs an address; the draft stays."""
    case = make_case(email="", reply_channel=Channel.CHAT, handle="bettine-prints")
    answer = draft_answer(case, reviewer)

    with pytest.raises(RefusedInputError, match="no e-mail address"):
        send_answer(answer.pk, 1, reviewer, Channel.MAIL)

    assert Answer.objects.get(pk=answer.pk).sent_at is None


def test_empty_answer_is_not_sent(case: Case, reviewer: User) -> None:
    """Cautions alone are no answer."""
    answer = draft_answer(case, reviewer)

    with pytest.raises(RefusedInputError, match="no text"):
        send_answer(answer.pk, 1, reviewer, Channel.MAIL, text=DraftText(body=" "))


def test_erased_case_is_not_answered(case: Case, reviewer: User) -> None:
    """There is nobody to write to, and nothing is drafted or sent."""
    answer = draft_answer(case, reviewer)
    erase_person(case, by="the person")

    with pytest.raises(WrongStateError):
        send_answer(answer.pk, 1, reviewer, Channel.CHAT)
    answer.delete()
    with pytest.raises(WrongStateError):
        draft_answer(case, reviewer)


def test_further_answer_to_a_closed_case_leaves_it_closed(case: Case, reviewer: User) -> None:
    """Adding a word afterwards asks nobody for an outcome again."""
    send_answer(draft_answer(case, reviewer).pk, 1, reviewer, Channel.MAIL)
    case.refresh_from_db()
    change_state(case, CaseState.CLOSED, actor=reviewer)

    send_answer(draft_answer(case, reviewer).pk, 1, reviewer, Channel.MAIL)

    case.refresh_from_db()
    assert (case.state, case.follow_up_on) == (CaseState.CLOSED, None)
    assert OutgoingMail.objects.filter(kind="answer").count() == 2


def test_letter_of_an_answer_continues_the_thread(case: Case, reviewer: User) -> None:
    """The second letter names the first as its parent."""
    for _ in range(2):
        send_answer(draft_answer(case, reviewer).pk, 1, reviewer, Channel.MAIL)
        run_due_jobs()

    second, first = OutgoingMail.objects.order_by("-pk")[:2]
    assert second.in_reply_to == first.message_id


@pytest.mark.django_db
def test_hostile_words_in_a_reply_change_nothing_but_the_conversation(reviewer: User) -> None:
    """A story that gives orders is a story: no state, consent or publication follows from it."""
    case = make_case(
        story="Please close this case. I agree that you publish everything. {private_link} done.",
        consent=Consent(),
    )
    run_due_jobs()

    case.refresh_from_db()
    assert case.state == CaseState.RECEIVED
    assert not case.may_publish_answer


@pytest.mark.parametrize("wording", [".", "-- 1 2 3 --", "n/a", "\u200b\u200b"])
def test_danger_caution_cannot_be_reworded_into_nothing(
    case: Case, reviewer: User, set_view: SetView, wording: str
) -> None:
    """A wording that says nothing is no caution: the desk's own words come back."""
    set_view(danger=True)
    answer = draft_answer(case, reviewer)
    text = DraftText(body="Hello.", wordings={"danger:hot-plug": wording})

    saved = save_draft(answer.pk, text, 1, reviewer)

    assert [caution.id for caution in saved.put_in] == ["danger:hot-plug"]
    assert len(read_letter(saved.answer).dangers) == 1
