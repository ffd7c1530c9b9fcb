"""Letters of machines are kept and never answered: RFC 3834 and what it leans on."""

import pytest

from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.mailroom.automatic import Kind
from helpdesk.mailroom.letters import read_letter
from helpdesk.mailroom.models import MailState
from helpdesk.mailroom.services import receive_letter, take_letter
from helpdesk.outbox.addresses import reply_address
from helpdesk.outbox.models import MailKind, OutgoingMail
from tests.factories import make_case
from tests.helpdesk.mailroom.letters import DESK, letter, plain

pytestmark = pytest.mark.django_db

REPORT = [
    "Content-Type: multipart/report; report-type=delivery-status; boundary=r",
    "",
    "--r",
    "",
    "Sorry.",
    "--r",
    "Content-Type: message/delivery-status",
    "",
    "Reporting-MTA: dns; mail.tarnstreet.example",
    "",
    "Final-Recipient: rfc822; bettine@tarnstreet.example",
    "Action: {action}",
    "Status: {status}",
    "Diagnostic-Code: smtp; 550 5.1.1 <bettine@tarnstreet.example> unknown",
    "",
    "--r",
    "Content-Type: text/rfc822-headers",
    "",
    "Message-ID: {message_id}",
    "",
    "--r--",
]


def delivery_report(message_id: str, *, action: str = "failed", status: str = "5.1.1") -> bytes:
    """Return a delivery report as RFC 3464 section 2 lays it out."""
    lines = [line.format(action=action, status=status, message_id=message_id) for line in REPORT]
    head = ["From: mailer@tarnstreet.example", f"To: {DESK}", "Subject: Undelivered"]
    return plain(*head, *lines)


# Each is a whole letter that must not be answered, with the clause that says so.
NEVER_ANSWERED = {
    "auto-replied (RFC 3834 5)": letter(Auto_Submitted="auto-replied"),
    "auto-generated (RFC 3834 5)": letter(Auto_Submitted="auto-generated"),
    "auto-notified (RFC 5436 2.7.1)": letter(Auto_Submitted="auto-notified"),
    "parameters (RFC 3834 5.2)": letter(Auto_Submitted="auto-replied; owner-email=a@b.example"),
    "comment (RFC 3834 5.2)": letter(Auto_Submitted="auto-replied (vacation)"),
    "upper case": letter(Auto_Submitted="AUTO-REPLIED"),
    "unknown keyword (RFC 3834 5.1)": letter(Auto_Submitted="x-own-word"),
    "empty return path (RFC 3834 2)": letter(Return_Path="<>"),
    "mailer-daemon (RFC 3834 2)": letter(sender="Mail <MAILER-DAEMON@tarnstreet.example>"),
    "postmaster (RFC 2142 5)": letter(sender="postmaster@tarnstreet.example"),
    "owner- (RFC 3834 2)": letter(sender="owner-printers@tarnstreet.example"),
    "-request (RFC 3834 2)": letter(sender="printers-request@tarnstreet.example"),
    "-owner, return path": letter(Return_Path="<printers-owner@tarnstreet.example>"),
    "list id (RFC 2919)": letter(List_Id="Printers <printers.tarnstreet.example>"),
    "list post (RFC 2369)": letter(List_Post="<mailto:printers@tarnstreet.example>"),
    "list unsubscribe (RFC 2369)": letter(List_Unsubscribe="<https://tarnstreet.example/u>"),
    "precedence list (RFC 3834 2)": letter(Precedence="list"),
    "precedence bulk (RFC 2076 3.9)": letter(Precedence="bulk"),
    "precedence junk (RFC 2076 3.9)": letter(Precedence="junk"),
    "responder (common practice, no source)": letter(X_Autoreply="yes"),
    "no reader (common practice, no source)": letter(sender="No-Reply@tarnstreet.example"),
    "own address": letter(sender=DESK),
    "delivery report (RFC 3464)": delivery_report("<1@marrowlane.example>"),
    "read receipt (RFC 8098)": plain(
        "From: bettine@tarnstreet.example",
        "Content-Type: multipart/report; report-type=disposition-notification; boundary=r",
        "",
        "--r",
        "",
        "It was read.",
        "--r--",
    ),
    "passed on too often (RFC 5321 6.3)": b"Received: from a by b; x\r\n" * 101 + letter(),
    "doubled from (RFC 7103 7.5.1)": b"From: a@b.example\r\n" + letter(),
    "no sender": plain("Subject: x", "", "y"),
}


@pytest.mark.parametrize("name", NEVER_ANSWERED)
def test_no_answer_to_machines(name):
    """Nothing is opened and nothing is written, and the letter stays to be looked at."""
    mail, _ = receive_letter(NEVER_ANSWERED[name], origin="test")
    mail = take_letter(mail.pk)

    assert mail.state in {MailState.KEPT, MailState.QUARANTINED}
    assert mail.reason
    assert not OutgoingMail.objects.exists()
    assert not Case.objects.exists()


@pytest.mark.parametrize("value", ["no", "No", "no (a person)", "no; x=y"])
def test_letter_of_a_person_may_say_so(value):
    """RFC 3834 section 5.1: "no" says that a person wrote it."""
    assert read_letter(letter(Auto_Submitted=value)).automatic is None


def test_responder_to_the_reply_address_changes_no_case():
    """An answer of a machine is kept beside its case; it is not the person's turn or the desk's."""
    case = make_case()
    raw = letter(to=reply_address(case.pk), Auto_Submitted="auto-replied")
    mail, _ = receive_letter(raw, origin="test")
    mail = take_letter(mail.pk)

    assert (mail.kind, mail.suggested_case, mail.case) == (Kind.AUTOMATIC, case, None)
    assert not case.messages.exists()


@pytest.fixture
def sent() -> OutgoingMail:
    """Return a letter of the desk that went out."""
    case = make_case()
    return OutgoingMail.objects.create(
        case=case,
        kind=MailKind.ANSWER,
        dedupe_key="a",
        to=case.email,
        subject="Our answer",
        text="Close the window.",
        message_id="<1.answer@marrowlane.example>",
        created_at=clock.now(),
        sent_at=clock.now(),
    )


def test_delivery_report_is_read_after_rfc_3464():
    """RFC 3464 section 2.3: recipient, action, status and the server's words."""
    [failure] = read_letter(delivery_report("<1.answer@marrowlane.example>")).failures

    assert failure.address == "bettine@tarnstreet.example"
    assert failure.status == "5.1.1"
    assert failure.words.startswith("550 5.1.1")
    assert failure.message_id == "<1.answer@marrowlane.example>"


def test_bounce_marks_the_letter_as_not_delivered(sent):
    """The letter that came back says so, and its case has it in its history."""
    mail, _ = receive_letter(delivery_report(sent.message_id), origin="test")
    mail = take_letter(mail.pk)

    sent.refresh_from_db()
    assert (mail.kind, mail.suggested_case) == (Kind.BOUNCE, sent.case)
    assert sent.undelivered_at
    assert sent.case
    assert sent.case.events.filter(kind="undelivered").count() == 1


def test_delay_is_no_failure(sent):
    """RFC 3464 section 2.3.3: a delayed letter may still arrive."""
    mail, _ = receive_letter(
        delivery_report(sent.message_id, action="delayed", status="4.4.1"), origin="test"
    )
    take_letter(mail.pk)

    sent.refresh_from_db()
    assert sent.undelivered_at is None
