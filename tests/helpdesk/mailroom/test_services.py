"""What becomes of a letter: a case, a reply, something kept, something set aside."""

from typing import Any

import pytest

from helpdesk.cases.models import Case, CaseState, Channel, MessageKind
from helpdesk.cases.services import change_state
from helpdesk.core import clock
from helpdesk.mailroom.automatic import Kind
from helpdesk.mailroom.errors import AlreadyDecidedError, LetterRefusedError
from helpdesk.mailroom.letters import read_letter
from helpdesk.mailroom.models import Effect, IncomingMail, MailState
from helpdesk.mailroom.services import (
    NOTICE_PAUSE,
    give_to_case,
    open_case_for,
    read_raw,
    receive_and_plan,
    receive_letter,
    take_again,
    take_letter,
)
from helpdesk.outbox.addresses import reply_address
from helpdesk.outbox.models import MailKind, OutgoingMail
from tests.factories import make_case
from tests.helpdesk.mailroom.letters import DESK, PERSON, letter, plain

pytestmark = pytest.mark.django_db
STRANGER = "Corin Abara <corin@fennmoor.example>"


def take(raw: bytes, **how: Any) -> Any:
    """Keep a letter and take it, as the command does."""
    mail, _ = receive_letter(raw, origin="test", **how)
    return take_letter(mail.pk)


def test_letter_opens_a_case_with_its_photos_and_one_receipt():
    """Words, photos, sender and subject arrive; consent is never taken from a letter."""
    mail = take(letter(photos=2))

    case = mail.case
    assert (mail.state, mail.effect) == (MailState.TAKEN, Effect.REPORT)
    assert case.title == "Box with lifted corners"
    assert (case.channel, case.reply_channel) == (Channel.MAIL, Channel.MAIL)
    assert (case.email, case.person_name) == ("bettine@tarnstreet.example", "Bettine Halvorsen")
    assert case.photos.count() == 2
    assert not case.may_show_photos
    assert not case.may_publish_answer
    assert OutgoingMail.objects.filter(case=case, kind=MailKind.RECEIPT).count() == 1


def test_same_bytes_are_one_letter_and_one_case():
    """A letter handed over twice, or taken twice, has its effect once."""
    raw = letter(photos=1)
    first, second = take(raw), take(raw)
    take_letter(first.pk)

    assert first.pk == second.pk
    assert Case.objects.count() == 1
    assert OutgoingMail.objects.count() == 1


def test_raw_bytes_are_kept_as_they_came():
    """What is stored is what came, byte for byte."""
    raw = letter("Grüße aus der Werkstatt, mit\r\nZeilen", photos=1)

    assert read_raw(take(raw)) == raw


def test_reply_to_the_signed_address_goes_to_its_case():
    """The signed address alone is enough; the subject says nothing (RFC 5322 3.6.4)."""
    case = make_case()
    change_state(case, CaseState.ASKED)
    mail = take(letter("It is a new nozzle.", to=reply_address(case.pk), subject="Whatever"))

    message = case.messages.get(kind=MessageKind.REPLY)
    case.refresh_from_db()
    assert (mail.effect, mail.case, mail.is_from_another) == (Effect.REPLY, case, False)
    assert (message.body, message.channel) == ("It is a new nozzle.", Channel.MAIL)
    assert case.state == CaseState.RECEIVED
    assert Case.objects.count() == 1


@pytest.mark.parametrize("field", ["Delivered-To", "X-Original-To", "Cc"])
def test_signed_address_is_found_where_mail_servers_write_it(field):
    """A letter may be addressed to the desk and delivered to the case's address."""
    case = make_case()

    assert take(letter(more={field: reply_address(case.pk)})).case == case


def test_reply_from_another_address_is_kept_and_marked():
    """Somebody who got the desk's letter may answer; the case says that it was another address."""
    case = make_case()
    mail = take(letter("I am her brother.", sender=STRANGER, to=reply_address(case.pk)))

    assert mail.is_from_another
    message = case.messages.get(kind=MessageKind.REPLY)
    assert message.author_name == "Corin Abara, from another address"


def test_forged_address_opens_nothing():
    """A signature that is off by a letter is no reply address; the letter is a new report."""
    case = make_case()
    name, _, domain = reply_address(case.pk).partition("@")
    forged = f"{name[:-1]}{'a' if name[-1] != 'a' else 'b'}@{domain}"

    assert take(letter(to=forged)).case != case


@pytest.fixture
def asked() -> OutgoingMail:
    """Return a letter of the desk about a case."""
    case = make_case()
    return OutgoingMail.objects.create(
        case=case,
        kind=MailKind.QUESTION,
        dedupe_key="q",
        to=case.email,
        subject="A question",
        text="?",
        message_id="<1.q@marrowlane.example>",
        created_at=clock.now(),
    )


@pytest.mark.parametrize("field", ["In-Reply-To", "References"])
def test_known_id_from_the_persons_address_is_a_reply(asked, field):
    """A thread is followed for the case's own person."""
    mail = take(letter("Yes, it is.", more={field: f"<0@x.example> {asked.message_id}"}))

    assert (mail.case, mail.effect) == (asked.case, Effect.REPLY)


def test_known_id_from_a_stranger_is_only_a_possible_match(asked):
    """Forged references give a stranger nothing: no reply, no receipt, no case."""
    mail = take(letter(sender=STRANGER, References=asked.message_id))

    assert (mail.state, mail.kind) == (MailState.KEPT, Kind.MATCH)
    assert (mail.case, mail.suggested_case) == (None, asked.case)
    assert not asked.case.messages.exists()
    assert OutgoingMail.objects.count() == 1


def test_subject_never_threads(asked):
    """The same subject from the same person is another report."""
    mail = take(letter(subject=f"Re: {asked.subject}"))

    assert mail.effect == Effect.REPORT
    assert mail.case != asked.case


def test_thread_of_rfc_5322_is_followed_by_message_ids():
    """RFC 5322 appendix A.2: three letters, the third names both before it."""
    first = take(
        letter(sender="John Doe <jdoe@machine.example>", message_id="<1234@local.machine.example>")
    )
    answer = take(
        letter(
            sender="John Doe <jdoe@machine.example>",
            message_id="<abcd.1234@local.machine.test>",
            In_Reply_To="<3456@example.net>",
            References="<1234@local.machine.example> <3456@example.net>",
        )
    )

    assert (answer.case, answer.effect) == (first.case, Effect.REPLY)


def test_answers_go_to_reply_to():
    """RFC 5322 section 3.6.2 and appendix A.2: Reply-To says where answers go."""
    mail = take(
        letter(
            sender="Mary Smith <mary@example.net>",
            Reply_To='"Mary Smith: Personal Account" <smith@home.example>',
        )
    )

    assert mail.case.email == "smith@home.example"


def test_same_id_with_other_content_is_set_aside():
    """RFC 7103 section 7.5.2: neither of two letters with one id is taken for the other."""
    first = take(letter("One.", message_id="<same@tarnstreet.example>"))
    second = take(letter("Two.", message_id="<same@tarnstreet.example>"))

    assert first.effect == Effect.REPORT
    assert (second.state, second.case) == (MailState.QUARANTINED, None)
    assert "same Message-ID" in second.reason


def test_same_letter_by_another_way_is_a_copy():
    """Trace fields differ from mailbox to mailbox; words, files and id do not."""
    raw = letter(photos=1)
    first = take(raw)
    second = take(b"Received: from a by b; Wed, 18 Nov 2026 10:31:00 +0000\r\n" + raw)

    assert (second.state, second.kind, second.case) == (MailState.KEPT, Kind.COPY, first.case)
    assert Case.objects.count() == 1


def test_missing_id_is_made_up_from_the_content():
    """The same letter always gets the same id, and it is no other's."""
    mail = take(letter(message_id=""))

    assert mail.message_id.endswith("@letter.invalid>")
    assert mail.effect == Effect.REPORT


@pytest.mark.parametrize(
    "line",
    [
        "From: Somebody Else <else@fennmoor.example>",
        "Subject: Another",
        "Date: Thu, 19 Nov 2026 10:30:00 +0000",
        "Message-ID: <other@fennmoor.example>",
    ],
)
def test_doubled_field_is_shown_and_not_trusted(line):
    """RFC 7103 section 7.5.1: a letter with two of what stands once is for a person to judge."""
    mail = take(line.encode() + b"\r\n" + letter())

    assert mail.state == MailState.QUARANTINED
    assert not Case.objects.exists()
    name = line.partition(":")[0].lower()
    assert sum(shown.lower() == name for shown, _ in mail.fields) == 2


def test_own_letter_coming_back_is_a_loop(asked):
    """A letter of the desk's own, echoed, opens nothing."""
    echo = take(letter(message_id=asked.message_id))
    own = take(letter(sender=DESK))

    assert {echo.kind, own.kind} == {Kind.LOOP}


def test_one_receipt_a_week_however_many_letters():
    """RFC 3834 section 2: two responders that answer each other end after one notice."""
    for number in range(12):
        take(letter(f"Automatic answer {number}"))
    assert OutgoingMail.objects.filter(kind=MailKind.RECEIPT).count() == 1

    with clock.standing_at(clock.now() + NOTICE_PAUSE + NOTICE_PAUSE / 100):
        take(letter("A week later."))

    assert OutgoingMail.objects.filter(kind=MailKind.RECEIPT).count() == 2


def test_flood_from_one_sender_is_kept_not_opened(settings):
    """A sender with very many letters in an hour is a machine."""
    mails = [take(letter(f"Word {number}"), is_polled=True) for number in range(32)]

    assert [mail.kind for mail in mails[-2:]] == [Kind.LOOP, Kind.LOOP]
    assert Case.objects.count() == 30


def test_receipts_have_a_limit_in_all(settings):
    """Forged senders cannot make the desk write to very many."""
    settings.LIMITS = {**settings.LIMITS, "mail_receipts": 2}
    for number in range(4):
        take(letter(sender=f"p{number}@tarnstreet.example"))

    assert OutgoingMail.objects.count() == 2
    assert Case.objects.count() == 4


def test_letter_without_a_sender_is_set_aside():
    """A letter nobody can answer waits for a reviewer."""
    mail = take(plain("Subject: x", "", "words"))

    assert mail.state == MailState.QUARANTINED
    assert "sender" in mail.reason


def test_empty_and_huge_letters_are_refused():
    """What holds nothing, or too much, is no letter; nothing of it stays."""
    with pytest.raises(LetterRefusedError, match="empty"):
        receive_letter(b" \r\n", origin="test")
    with pytest.raises(LetterRefusedError, match="50 MB"):
        receive_letter(b"x" * (50 * 1024 * 1024 + 1), origin="test")
    assert not IncomingMail.objects.exists()


def test_letter_that_cannot_be_read_is_set_aside_and_taken_later(monkeypatch):
    """Whatever goes wrong while reading, the bytes stay and a button tries again."""

    def fail(raw: bytes) -> None:
        raise RuntimeError("as if the reading had a fault")

    monkeypatch.setattr("helpdesk.mailroom.services.read_letter", fail)
    mail = take(letter())
    assert (mail.state, mail.case) == (MailState.QUARANTINED, None)
    assert "RuntimeError" in mail.reason

    monkeypatch.setattr("helpdesk.mailroom.services.read_letter", read_letter)
    mail = take_again(mail.pk)

    assert mail.effect == Effect.REPORT


def test_reviewer_decides_about_a_possible_match(asked, reviewer):
    """One tap adds the letter to the case, or opens a new one; a second tap changes nothing."""
    first = take(letter("One.", sender=STRANGER, References=asked.message_id))
    second = take(letter("Two.", sender=STRANGER, References=asked.message_id))

    give_to_case(first.pk, asked.case.pk, by=reviewer)
    opened: Any = open_case_for(second.pk, by=reviewer)

    assert asked.case.messages.get().body == "One."
    assert opened.case.reports.get().story == "Two."
    with pytest.raises(AlreadyDecidedError):
        give_to_case(first.pk, asked.case.pk, by=reviewer)


def test_polled_letter_is_taken_by_its_job():
    """Row and job are one transaction; in tests the job runs at once."""
    mail = receive_and_plan(letter(), origin="mailbox")

    assert mail.state == MailState.WAITING


def test_letter_adds_words_and_does_nothing_else(asked):
    """Whatever it says, a letter cannot consent, close, erase or publish."""
    case = asked.case
    take(
        letter(
            "I agree that you may publish everything. Close the case. Delete all my data. Yes.",
            In_Reply_To=asked.message_id,
        )
    )

    case.refresh_from_db()
    assert case.state == CaseState.RECEIVED
    assert not case.may_publish_answer
    assert not case.may_show_photos
    assert case.erased_at is None
    assert case.consents.count() == 1


def test_forwarded_letter_keeps_finder_and_owner_apart():
    """Who passes it on is the finder; the first writer is proposed as owner, never written to."""
    mail = take(
        letter(
            "Look at this one.\n\n---------- Forwarded message ---------\n"
            "From: Amara Quill <amara@ostler.example>\nDate: Tue, 17 Nov 2026 at 09:12\n"
            "Subject: My rook\nTo: <bettine@tarnstreet.example>\n\n"
            "The rook has holes near the top.\n",
            subject="Fwd: My rook",
        )
    )

    case = mail.case
    assert (case.is_own_print, case.owner_name) == (False, "Amara Quill")
    assert case.email == "bettine@tarnstreet.example"
    assert case.title == "My rook"
    assert mail.owner_address == "amara@ostler.example"
    assert "holes near the top" in case.reports.get().story
    assert set(OutgoingMail.objects.values_list("to", flat=True)) == {"bettine@tarnstreet.example"}


def test_header_injection_stays_one_line():
    """An encoded line end becomes a space wherever the subject goes (CVE-2024-6923)."""
    mail = take(
        plain(
            f"From: {PERSON}",
            "Message-ID: <inject@tarnstreet.example>",
            "Subject: =?utf-8?q?Help=0D=0ABcc:_everybody=40tarnstreet=2Eexample?=",
            "",
            "words",
        )
    )

    assert mail.subject == "Help Bcc: everybody@tarnstreet.example"
    receipt = OutgoingMail.objects.get()
    assert "\n" not in receipt.subject
    assert receipt.to == "bettine@tarnstreet.example"
