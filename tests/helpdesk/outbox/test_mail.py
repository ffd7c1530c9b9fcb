"""Letters on the wire: a real server, strictly read (RFC 5322, RFC 3834)."""

import re
from collections.abc import Callable
from email.message import EmailMessage
from typing import Any

import pytest
from django.db import transaction
from hypothesis import given
from hypothesis import strategies as st

from helpdesk.cases.models import AccessLink, Case
from helpdesk.cases.selectors import find_case_by_token
from helpdesk.core.jobs import run_job
from helpdesk.core.models import Job, JobState
from helpdesk.outbox.errors import MailNotSentError
from helpdesk.outbox.models import MailKind, OutgoingMail
from helpdesk.outbox.services import clean_line, deliver_mail, queue_mail
from tests.factories import make_case
from tests.helpdesk.outbox.conftest import Post

LINE_LIMIT = 998  # RFC 5322 section 2.1.1, characters without CRLF
OWN_ID = re.compile(r"^<[^<>\s@]+@marrowlane\.example>$")


def _queue(case: Case, **changes: Any) -> OutgoingMail:
    values: dict[str, Any] = {
        "kind": MailKind.ANSWER,
        "subject": "Our answer",
        "text": "Hello,\n\nclose the window.",
        "dedupe_key": f"k{OutgoingMail.objects.count()}",
    }
    mail = queue_mail(case, **(values | changes))
    assert mail is not None
    return mail


def _plain(letter: EmailMessage) -> str:
    """Return the plain half of a letter."""
    half = letter.get_body(("plain",))
    assert isinstance(half, EmailMessage)
    return str(half.get_content())


def test_letter_has_an_own_id_one_recipient_and_its_text(case: Case, post: Post) -> None:
    """What arrives is what was written, under an id of our domain."""
    mail = _queue(case)

    deliver_mail(mail.pk)

    [letter] = post.letters
    assert OWN_ID.match(letter["Message-ID"])
    assert letter["Message-ID"] == mail.message_id
    assert letter["To"] == "bettine@tarnstreet.example"
    assert post.recipients == ["bettine@tarnstreet.example"]
    assert letter["Date"]
    assert _plain(letter).splitlines() == ["Hello,", "", "close the window."]
    assert letter["In-Reply-To"] is None
    assert letter["Auto-Submitted"] is None


def test_letters_of_a_case_form_one_thread(case: Case, post: Post) -> None:
    """In-Reply-To is the parent; References are the parent's with the parent at the end."""
    mails = [_queue(case, subject=f"Letter {n}") for n in range(3)]
    for mail in mails:
        deliver_mail(mail.pk)

    first, second, third = post.letters
    assert second["In-Reply-To"] == first["Message-ID"]
    assert second["References"] == first["Message-ID"]
    assert third["In-Reply-To"] == second["Message-ID"]
    assert third["References"].split() == [first["Message-ID"], second["Message-ID"]]


def test_thread_of_another_case_is_another_thread(case: Case, post: Post) -> None:
    """Two cases of one person do not run into each other."""
    _queue(case)
    other = _queue(make_case())

    assert other.in_reply_to == ""


@pytest.mark.parametrize(
    ("kind", "expected"),
    [(MailKind.RECEIPT, "auto-replied"), (MailKind.FOLLOW_UP, "auto-generated")],
)
def test_automatic_letters_say_so(case: Case, post: Post, kind: str, expected: str) -> None:
    """RFC 3834: a reply is auto-replied, what a clock sends is auto-generated."""
    deliver_mail(_queue(case, kind=kind, is_automatic=True).pk)

    assert post.letters[0]["Auto-Submitted"] == expected


def test_long_lines_and_foreign_letters_arrive_whole(case: Case, post: Post) -> None:
    """No line on the wire is longer than 998, whatever was written."""
    text = "Grüße aus Łódź – 印刷 " * 200 + "\n" + "x" * 3000 + "\n.\nend"
    deliver_mail(_queue(case, text=text, subject="Ørjan’s 印刷 " * 8).pk)

    [letter] = post.letters
    assert _plain(letter).rstrip().splitlines() == text.splitlines()
    assert letter["Subject"].strip() == clean_line("Ørjan’s 印刷 " * 8)
    assert max(len(line) for line in post.raw[0].split(b"\r\n")) <= LINE_LIMIT


@pytest.mark.parametrize(
    "title",
    [
        "Box\r\nBcc: everybody@there.example",
        "Box\nX-Evil: 1",
        "Box\x00\x0b\x0c\x1b[31m",
        "Box\u2028Bcc: everybody@there.example\x85X-Evil: 1",
        "Box\u202egnp.exe",
    ],
)
def test_control_characters_of_a_title_never_reach_a_header(
    case: Case, post: Post, title: str
) -> None:
    """The letter still goes out, to one person, with one clean subject line."""
    deliver_mail(_queue(case, subject=f"Our answer: {title}").pk)

    [letter] = post.letters
    assert post.recipients == ["bettine@tarnstreet.example"]
    assert letter["X-Evil"] is None
    assert letter["Bcc"] is None
    assert letter["Subject"].startswith("Our answer: Box")
    assert not re.search(r"[\x00-\x1f\x7f-\x9f\u2028\u202e]", letter["Subject"])


@given(st.text(max_size=300))
def test_clean_line_is_one_printable_line(text: str) -> None:
    """Whatever comes in: one line, no control characters, not too long."""
    line = clean_line(text)

    assert len(line) <= 150
    assert len(line.splitlines()) <= 1
    assert not re.search(r"[\x00-\x1f\x7f-\x9f]", line)


def test_name_of_a_person_cannot_add_a_recipient(post: Post, db: None) -> None:
    """Names stand in the text, never in an address."""
    case = make_case(person_name="Bettine <b@x.example>, all@there.example")
    deliver_mail(_queue(case).pk)

    assert post.recipients == ["bettine@tarnstreet.example"]


def test_private_link_opens_the_case_and_is_in_no_row(case: Case, post: Post) -> None:
    """The address is made when the letter goes and only its hash is kept."""
    mail = _queue(case, text="Your page: {private_link}")

    deliver_mail(mail.pk)

    text = _plain(post.letters[0])
    token = re.search(r"/t/([\w-]+)", text)
    assert token
    assert find_case_by_token(token.group(1)) == case
    mail.refresh_from_db()
    assert token.group(1) not in mail.text


def test_delivering_twice_sends_once(case: Case, post: Post) -> None:
    """A job that runs again after its letter went does nothing."""
    mail = _queue(case)

    deliver_mail(mail.pk)
    deliver_mail(mail.pk)

    assert len(post.raw) == 1


def test_same_effect_twice_is_one_letter(case: Case) -> None:
    """The dedupe key names the letter."""
    first = _queue(case, dedupe_key="answer:1")
    second = _queue(case, dedupe_key="answer:1", text="Other words.")

    assert first.pk == second.pk
    assert Job.objects.filter(kind="send-mail").count() == 1


def test_refused_letter_is_tried_again_and_then_arrives(case: Case, post: Post) -> None:
    """Nothing is lost; the row says why, without the person's address."""
    mail = _queue(case, text="Your page: {private_link}")
    job = Job.objects.get(kind="send-mail")
    post.refusal = "450 4.2.0 mailbox busy for"

    run_job(job.pk)
    job.refresh_from_db()
    after_refusal = (job.state, job.last_error)
    post.refusal = ""
    Job.objects.update(run_after=job.created_at)
    run_job(job.pk)

    mail.refresh_from_db()
    assert after_refusal[0] == JobState.WAITING
    assert "450" in after_refusal[1]
    assert "bettine" not in after_refusal[1]
    assert mail.sent_at is not None
    assert len(post.raw) == 1


def test_failed_sending_leaves_no_private_address_behind(case: Case, post: Post) -> None:
    """An address nobody got opens nothing."""
    mail = _queue(case, text="{private_link}")
    before = AccessLink.objects.count()
    post.refusal = "550 5.7.1 not today"

    with pytest.raises(MailNotSentError, match="550"):
        deliver_mail(mail.pk)

    assert AccessLink.objects.count() == before


def test_server_that_is_away_is_a_named_error(case: Case, settings: Any) -> None:
    """A closed port is told from a bug, so that the job waits and tries again."""
    settings.EMAIL_BACKEND = "helpdesk.outbox.smtp.EnvelopeBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9
    settings.EMAIL_USE_TLS, settings.EMAIL_TIMEOUT = False, 2
    mail = _queue(case)

    with pytest.raises(MailNotSentError, match="could not be used"):
        deliver_mail(mail.pk)

    mail.refresh_from_db()
    assert mail.sent_at is None


def test_nothing_is_sent_to_a_server_without_promised_encryption(
    case: Case, post: Post, settings: Any
) -> None:
    """A server that does not offer STARTTLS gets nothing in plain text."""
    settings.EMAIL_USE_TLS = True
    mail = _queue(case)

    with pytest.raises(MailNotSentError):
        deliver_mail(mail.pk)

    assert post.raw == []


@pytest.mark.django_db(transaction=True)
def test_undone_transaction_leaves_no_letter(
    django_capture_on_commit_callbacks: Callable[..., Any],
) -> None:
    """A letter whose cause was rolled back was never written."""
    case = make_case()
    jobs_before = Job.objects.filter(kind="send-mail").count()

    with transaction.atomic():
        _queue(case)
        transaction.set_rollback(True)

    assert not OutgoingMail.objects.filter(case=case, kind=MailKind.ANSWER).exists()
    assert Job.objects.filter(kind="send-mail").count() == jobs_before


def test_nobody_without_an_address_is_written_to(db: None) -> None:
    """No address, no letter, no error."""
    case = make_case(email="")

    assert queue_mail(case, kind="answer", subject="x", text="x", dedupe_key="k") is None
