"""The two halves of a letter, its thread and its way to stop notices, on the wire."""

import datetime
import re
import smtplib
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.test import Client
from django.utils import timezone

from helpdesk.cases.models import Case
from helpdesk.outbox.addresses import reply_address
from helpdesk.outbox.composing import link_words, render_html, split_blocks
from helpdesk.outbox.marks import find_mark
from helpdesk.outbox.models import MailKind, OutgoingMail
from helpdesk.outbox.services import deliver_mail, note_incoming, queue_mail
from tests.factories import make_case
from tests.helpdesk.outbox.conftest import Post

AIM = 78  # RFC 5322 section 2.1.1, characters without CRLF
TEXT = """Hello Bettine,

What we see: corners that lift & curl <first>.
Do this now.

Please look at:
- the plate – is it clean?
- the window

Your page: {private_link}

3. Turn it <b>off</b>. See https://desk.example/a?b=1&c=2."""


class Tags(HTMLParser):
    """Collects elements, attributes and text of a page."""

    def __init__(self, html: str) -> None:
        """Read a page."""
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep an element."""
        self.tags.append(tag)
        self.text += "\n" if tag in {"li", "p", "br"} else ""
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        """Keep words."""
        self.text += data


def _send(case: Case, post: Post, **changes: Any) -> Any:
    values: dict[str, Any] = {
        "kind": MailKind.ANSWER,
        "subject": "Our answer",
        "text": TEXT,
        "dedupe_key": f"k{OutgoingMail.objects.count()}",
    }
    mail = queue_mail(case, **(values | changes))
    assert mail
    deliver_mail(mail.pk)
    return post.letters[-1]


def test_letter_says_the_same_in_plain_text_and_html(case: Case, post: Post) -> None:
    """RFC 2046 section 5.1.4: the parts are alternatives, the richer one last."""
    letter = _send(case, post)

    plain, html = letter.iter_parts()
    assert letter.get_content_type() == "multipart/alternative"
    assert [part.get_content_type() for part in (plain, html)] == ["text/plain", "text/html"]
    said = re.sub(r"^- ", "", plain.get_content(), flags=re.MULTILINE)
    shown = Tags(html.get_content()).text.removeprefix("\n")
    assert shown.split() == ["Our", "answer", *said.split()]


def test_html_half_fetches_nothing_and_sets_no_colours(case: Case, post: Post) -> None:
    """A program shows it in its own colours, light or dark, and the reader is not watched."""
    [_, html] = _send(case, post).iter_parts()
    page = Tags(html.get_content())

    assert not {"img", "link", "style", "script", "iframe", "object", "form"} & set(page.tags)
    assert not {"src", "style", "bgcolor", "color", "background"} & {n for n, _ in page.attributes}
    assert 'name="color-scheme" content="light dark"' in html.get_content()
    assert "b" not in page.tags  # what a person typed stays text


def test_lines_on_the_wire_stay_within_78_characters_of_plain_ascii(case: Case, post: Post) -> None:
    """Any server can carry it, also one without 8BITMIME (RFC 6152)."""
    _send(case, post, text="Grüße 印刷 " * 400 + "\n" + "x" * 3000, subject="Ø" * 140)

    assert post.raw[0].isascii()
    assert max(len(line) for line in post.raw[0].split(b"\r\n")) <= AIM


def test_answers_go_to_the_address_of_the_case(case: Case, post: Post) -> None:
    """Reply-To and the return path name the case, so that a reply or a failure finds it."""
    letter = _send(case, post)

    assert letter["Reply-To"] == reply_address(case.pk)
    assert post.senders == [reply_address(case.pk)]
    assert letter["From"] == "Printward <clinic@marrowlane.example>"


def test_receipt_is_plain_text_with_an_empty_return_path(case: Case, post: Post) -> None:
    """RFC 3834 sections 3.2 and 3.3: nobody is told when an automatic reply fails."""
    letter = _send(case, post, kind=MailKind.RECEIPT, is_automatic=True)

    assert letter.get_content_type() == "text/plain"
    assert letter["Auto-Submitted"] == "auto-replied"
    assert post.senders == [""]


def test_timed_letter_hears_of_its_failure(case: Case, post: Post) -> None:
    """A follow-up is no reply, so a wrong address is noticed."""
    letter = _send(case, post, kind=MailKind.FOLLOW_UP, is_automatic=True)

    assert letter["Auto-Submitted"] == "auto-generated"
    assert post.senders == [reply_address(case.pk)]


def test_server_that_takes_only_its_own_sender_gets_it(case: Case, post: Post) -> None:
    """The letter goes out under the plain address, once."""
    post.only_sender = "clinic@marrowlane.example"

    _send(case, post)

    assert post.senders == ["clinic@marrowlane.example"]
    assert len(post.raw) == 1


# RFC 5322 appendix A.2: the reply names the message in In-Reply-To and References, and the
# subject takes "Re: " once.
def test_answer_to_a_mail_stands_below_it(case: Case, post: Post) -> None:
    """The ids are those of the appendix."""
    note_incoming(case, "<3456@example.net>", "<1234@local.machine.example>", "Re: Saying Hello")

    letter = _send(case, post)

    assert letter["In-Reply-To"] == "<3456@example.net>"
    assert letter["References"] == "<1234@local.machine.example> <3456@example.net>"
    assert letter["Subject"] == "Re: Saying Hello"


def test_thread_goes_on_over_both_sides(case: Case, post: Post) -> None:
    """Mail, receipt, mail, answer: each names all before it, once, its parent last."""
    note_incoming(case, "<1@there.example>", "", "Lifted corners")
    receipt = _send(case, post, kind=MailKind.RECEIPT, is_automatic=True)
    note_incoming(
        case,
        "<2@there.example>",
        f"<1@there.example> {receipt['Message-ID']}",
        "AW: Lifted corners",
    )
    answer = _send(case, post)

    assert receipt["References"] == "<1@there.example>"
    assert receipt["Subject"] == "Our answer"
    assert answer["In-Reply-To"] == "<2@there.example>"
    assert answer["References"].split() == [
        "<1@there.example>",
        receipt["Message-ID"],
        "<2@there.example>",
    ]
    assert answer["Subject"] == "Re: Lifted corners"


@pytest.mark.parametrize(
    ("theirs", "ours"),
    [
        ("Box", "Re: Box"),
        ("Re: Box", "Re: Box"),
        ("RE: re: Aw: Box", "Re: Box"),
        ("Re[2]: Box", "Re: Box"),
        ("Really: a box", "Re: Really: a box"),
        ("", "Re: Our answer"),
        ("Box\r\nBcc: all@there.example", "Re: Box Bcc: all@there.example"),
        ("x" * 400, "Re: " + "x" * 146),
    ],
)
def test_subject_of_an_answer_takes_re_once(case: Case, post: Post, theirs: str, ours: str) -> None:
    """RFC 5322 section 3.6.5."""
    note_incoming(case, "<1@there.example>", "", theirs)

    assert _send(case, post)["Subject"] == ours


def test_notice_can_be_stopped_with_one_press(case: Case, post: Post, settings: Any) -> None:
    """RFC 8058 section 8.1: the body of the POST is 26 bytes and there is no cookie."""
    settings.DESK_ADDRESS = "https://desk.example"
    letter = _send(case, post, kind=MailKind.FOLLOW_UP, is_automatic=True)
    address = letter["List-Unsubscribe"].strip("<>")
    path = urlsplit(address).path
    client = Client(enforce_csrf_checks=True)
    body = "List-Unsubscribe=One-Click"

    assert letter["List-Unsubscribe-Post"] == body
    assert len(body) == 26
    assert address in letter.get_body(("plain",)).get_content()
    assert "tarnstreet" not in address
    opened = client.get(path)
    assert opened.status_code == 200
    mark = find_mark(case.email)
    assert mark
    assert mark.unsubscribed_at is None  # opening it changes nothing
    pressed = client.post(path, body, content_type="application/x-www-form-urlencoded")
    assert pressed.status_code == 200  # no redirect: RFC 8058 section 3.1
    mark = find_mark(case.email)
    assert mark
    assert mark.unsubscribed_at
    assert not client.cookies


def test_stopped_notices_are_not_written_but_answers_are(case: Case, post: Post) -> None:
    """Who wants no notices still gets an answer, and may change their mind."""
    letter = _send(case, post, kind=MailKind.FEATURED)
    path = urlsplit(letter["List-Unsubscribe"].strip("<>")).path
    waiting = queue_mail(case, kind=MailKind.FEATURED, subject="S", text="t", dedupe_key="waiting")
    assert waiting

    Client().post(path, {"List-Unsubscribe": "One-Click"})

    deliver_mail(waiting.pk)
    waiting.refresh_from_db()
    assert waiting.sent_at is None
    assert waiting.undelivered_why.startswith("Not sent")
    assert not queue_mail(case, kind=MailKind.FOLLOW_UP, subject="S", text="t", dedupe_key="no")
    assert queue_mail(case, kind=MailKind.ANSWER, subject="S", text="t", dedupe_key="yes")
    Client().post(path, {"again": "yes"})
    assert queue_mail(case, kind=MailKind.FOLLOW_UP, subject="S", text="t", dedupe_key="again")


def test_only_addresses_the_desk_made_stop_notices(case: Case) -> None:
    """A made-up address is no page, whoever asks."""
    for token in ("x", "1-aaaaaaaaaaaaaaaa", "1", f"{'9' * 30}-a", "²-a"):
        assert Client().get(f"/notices/{token}").status_code == 404
        assert Client().post(f"/notices/{token}").status_code == 404


def test_answers_and_receipts_carry_no_way_to_stop_them(case: Case, post: Post) -> None:
    """An answer is no notice to many."""
    for kind in (MailKind.ANSWER, MailKind.QUESTION, MailKind.RECEIPT):
        assert _send(case, post, kind=kind)["List-Unsubscribe"] is None


def test_without_https_the_one_press_is_not_promised(case: Case, post: Post, settings: Any) -> None:
    """RFC 8058 section 3.1 wants https; the page itself still works."""
    settings.DESK_ADDRESS = "http://127.0.0.1:8000"
    letter = _send(case, post, kind=MailKind.FEATURED)

    assert letter["List-Unsubscribe"].startswith("<http://127.0.0.1:8000/notices/")
    assert letter["List-Unsubscribe-Post"] is None


def test_address_the_server_does_not_know_is_not_tried_again(case: Case, post: Post) -> None:
    """A refusal with 5.1.1 (RFC 3463) marks the letter and the address at once."""
    post.refusal = "550 5.1.1 no such user"
    mail = queue_mail(case, kind=MailKind.ANSWER, subject="S", text="t", dedupe_key="k")
    assert mail

    deliver_mail(mail.pk)

    mail.refresh_from_db()
    assert mail.undelivered_at
    assert "bettine" not in mail.undelivered_why
    mark = find_mark(case.email)
    assert mark
    assert mark.undeliverable_at


def test_letter_another_worker_holds_is_not_sent_twice(case: Case, post: Post) -> None:
    """The claim stands until the worker cannot be at it any more; then the same id goes again."""
    mail = queue_mail(case, kind=MailKind.ANSWER, subject="S", text="t", dedupe_key="k")
    assert mail
    OutgoingMail.objects.update(sending_at=timezone.now())

    with pytest.raises(Exception, match="Another worker"):
        deliver_mail(mail.pk)
    assert post.raw == []
    OutgoingMail.objects.update(sending_at=timezone.now() - datetime.timedelta(minutes=6))
    deliver_mail(mail.pk)
    deliver_mail(mail.pk)

    [letter] = post.letters
    assert letter["Message-ID"] == mail.message_id


def test_server_that_falls_silent_after_the_letter_leaves_the_private_link(
    case: Case, post: Post, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It may have taken the letter, so the link in it must open."""
    mail = queue_mail(
        case, kind=MailKind.ANSWER, subject="S", text="{private_link}", dedupe_key="k"
    )
    assert mail
    before = case.links.count()

    def fall_silent(self: smtplib.SMTP, *args: Any) -> None:
        raise smtplib.SMTPServerDisconnected("Connection unexpectedly closed")

    with monkeypatch.context() as patch:
        patch.setattr(smtplib.SMTP, "data", fall_silent)
        with pytest.raises(Exception, match="could not be used"):
            deliver_mail(mail.pk)
    after = case.links.count()
    deliver_mail(mail.pk)

    assert after == before + 1
    assert post.letters[0]["Message-ID"] == mail.message_id


def test_server_that_hangs_up_after_its_yes_has_the_letter(
    case: Case, post: Post, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error while saying good-bye sends nothing twice."""

    def fail(self: smtplib.SMTP) -> None:
        raise TimeoutError("timed out")

    monkeypatch.setattr(smtplib.SMTP, "quit", fail)
    mail = queue_mail(case, kind=MailKind.ANSWER, subject="S", text="t", dedupe_key="k")
    assert mail

    deliver_mail(mail.pk)

    mail.refresh_from_db()
    assert mail.sent_at
    assert len(post.raw) == 1


def test_links_end_before_the_full_stop_and_are_escaped() -> None:
    """What closes a sentence is no part of an address."""
    assert link_words('See https://a.example/x?y=1&z=2, "https://b.example/".') == (
        'See <a href="https://a.example/x?y=1&amp;z=2">https://a.example/x?y=1&amp;z=2</a>, '
        '&quot;<a href="https://b.example/">https://b.example/</a>&quot;.'
    )
    assert link_words("javascript:alert(1) <script>") == "javascript:alert(1) &lt;script&gt;"


def test_short_opening_is_set_off_and_a_sentence_is_not() -> None:
    """Only a few words before a colon count as a heading."""
    [first, second] = split_blocks(
        "What we see: stringing.\n\nIt is as the person told us in a long sentence: stringing."
    )

    assert first.lead == "<strong>What we see:</strong> stringing."
    assert "strong" not in second.lead


def test_long_hostile_text_is_rendered_fast() -> None:
    """No pattern looks back over a text of 300 kB."""
    started = timezone.now()
    for text in ("http://" * 40_000, "A" * 300_000, "- " * 100_000, "\n \n" * 100_000):
        render_html("S", text)

    assert (timezone.now() - started).total_seconds() < 20


def test_letters_of_two_cases_have_two_addresses(case: Case) -> None:
    """A reply about one print never lands in another."""
    assert reply_address(case.pk) != reply_address(make_case().pk)
