"""Letters that come back, and the ids of mail that comes in."""

import pytest

from helpdesk.cases.models import Case
from helpdesk.outbox.erasure import erase_part
from helpdesk.outbox.marks import find_mark, is_undeliverable
from helpdesk.outbox.models import AddressMark, IncomingId, MailKind, OutgoingMail
from helpdesk.outbox.services import deliver_mail, note_incoming, note_undelivered, queue_mail
from helpdesk.outbox.threads import MOST_REFERENCES, find_ids, shorten
from tests.factories import make_case
from tests.helpdesk.outbox.conftest import Post


def _write(case: Case, *, key: str = "k", is_automatic: bool = False) -> OutgoingMail | None:
    return queue_mail(
        case,
        kind=MailKind.ANSWER,
        subject="Our answer",
        text="Close the window.",
        dedupe_key=key,
        is_automatic=is_automatic,
    )


def test_letter_sent_back_is_marked_and_stands_in_the_history(case: Case) -> None:
    """The report's words are kept on one line, without the address they name."""
    mail = _write(case)
    assert mail

    noted = note_undelivered(
        message_id=mail.message_id,
        status="5.1.1",
        words="550 5.1.1\r\n<bettine@tarnstreet.example> unknown",
    )

    assert noted == mail
    mail.refresh_from_db()
    assert mail.undelivered_at
    assert mail.undelivered_why == "5.1.1 550 5.1.1 <(an address)> unknown"
    [event] = case.events.filter(kind="undelivered")
    assert event.what == "Not delivered: answer"
    assert "@" not in event.why


# RFC 3463 sections 3.2 to 3.8: which codes speak of the address and which of the letter.
@pytest.mark.parametrize(
    ("status", "is_lost"),
    [
        ("5.1.1", True),  # bad destination mailbox address
        ("5.1.10", True),  # recipient address has null MX (RFC 7505)
        ("5.2.1", True),  # mailbox disabled
        ("5.4.4", True),  # unable to route
        ("5.0.0", True),  # other, permanent
        ("5.2.2", False),  # mailbox full
        ("5.3.4", False),  # message too big for system
        ("5.6.1", False),  # media not supported
        ("5.7.1", False),  # delivery not authorised, message refused
        ("4.4.7", False),  # delivery time expired
        ("", False),
    ],
)
def test_only_codes_about_the_address_stop_automatic_letters(
    case: Case, status: str, is_lost: bool
) -> None:
    """A full mailbox is no wrong address."""
    mail = _write(case)
    assert mail

    note_undelivered(message_id=mail.message_id, status=status, words="no")

    assert is_undeliverable(case) is is_lost
    assert (_write(case, key="auto", is_automatic=True) is None) is is_lost
    assert _write(case, key="by hand") is not None


def test_report_without_the_id_needs_the_signed_address_of_the_case(case: Case, post: Post) -> None:
    """Anybody can name an address; only who got the desk's letter knows the case's own."""
    mail = _write(case)
    assert mail
    deliver_mail(mail.pk)

    assert note_undelivered(address=case.email, status="5.1.1") is None
    assert note_undelivered(address="other@there.example", status="5.1.1", case=case) is None
    assert not is_undeliverable(case)
    assert note_undelivered(address=case.email.upper(), status="5.1.1", case=case) == mail
    assert is_undeliverable(case)


def test_report_about_a_letter_the_desk_never_sent_changes_nothing(case: Case) -> None:
    """A made-up report marks no address."""
    assert note_undelivered(message_id="<made.up@elsewhere.example>", status="5.1.1") is None
    assert note_undelivered(message_id="no id", status="5.1.1") is None

    assert not AddressMark.objects.exists()


def test_same_report_twice_is_noted_once(case: Case) -> None:
    """The first reason stays and the history says it once."""
    mail = _write(case)
    assert mail

    note_undelivered(message_id=mail.message_id, status="5.1.1", words="first")
    note_undelivered(message_id=mail.message_id, status="5.2.2", words="second")

    assert case.events.filter(kind="undelivered").count() == 1
    mail.refresh_from_db()
    assert mail.undelivered_why == "5.1.1 first"


def test_mark_names_nobody_and_knows_the_address_in_any_case(case: Case) -> None:
    """Only a keyed hash is kept."""
    mail = _write(case)
    assert mail
    note_undelivered(message_id=mail.message_id, status="5.1.1", words="no")

    mark = find_mark("Bettine <BETTINE@tarnstreet.example>")
    assert mark
    assert "tarnstreet" not in f"{mark.address_hash}{mark.why}"


def test_id_of_a_mail_is_kept_once_with_the_ids_before_it(case: Case) -> None:
    """The same mail handed over twice leaves one row."""
    for _ in range(2):
        note_incoming(
            case, " <a.1@there.example>\r\n", "<root@there.example> junk <mid@there.example>", "Hi"
        )

    [noted] = IncomingId.objects.filter(case=case)
    assert noted.message_id == "<a.1@there.example>"
    assert noted.references == "<root@there.example> <mid@there.example>"
    assert noted.subject == "Hi"


@pytest.mark.parametrize(
    "given", ["", "no angle brackets", "<no-at>", "<a b@c>", "<" + "x" * 999 + "@y>"]
)
def test_mail_without_a_usable_id_is_not_kept(case: Case, given: str) -> None:
    """A letter never names what is no Message-ID."""
    assert note_incoming(case, given) is None


def test_ids_cannot_carry_another_header() -> None:
    """What stands in our header later holds no line break and no space."""
    assert find_ids("<a@b>\r\nBcc: <c@d\r\n> <e@f>") == ["<a@b>", "<e@f>"]


def test_long_thread_keeps_its_root_and_its_latest() -> None:
    """The root holds a thread together where a program has lost the middle."""
    thread = [f"<{n}@there.example>" for n in range(100)]

    short = shorten(thread)

    assert len(short) == MOST_REFERENCES
    assert short[0] == thread[0]
    assert short[1:] == thread[101 - MOST_REFERENCES :]
    assert shorten(thread[:3]) == thread[:3]


def test_forgotten_person_leaves_no_ids(case: Case) -> None:
    """The ids of a person's mails go with their letters."""
    note_incoming(case, "<a@there.example>")
    note_incoming(make_case(), "<a@there.example>")
    mail = _write(case)
    assert mail
    note_undelivered(message_id=mail.message_id, status="5.1.1", words="no such kiln")

    erase_part(case)

    assert IncomingId.objects.count() == 1
    assert not AddressMark.objects.filter(why__contains="kiln").exists()
