"""The mailroom's pages."""

import pytest
from django.urls import reverse

from helpdesk.cases.erasure import erase_parts
from helpdesk.cases.models import Case, MessageKind
from helpdesk.cases.services import erase_person
from helpdesk.mailroom.models import IncomingMail, MailState, letter_storage
from helpdesk.mailroom.services import receive_letter, take_letter
from helpdesk.outbox.addresses import reply_address
from tests.factories import make_case
from tests.helpdesk.mailroom.letters import letter, plain

pytestmark = pytest.mark.django_db


@pytest.fixture
def client(as_user, reviewer):
    """Return a reviewer's client."""
    return as_user(reviewer)


def take(raw: bytes) -> IncomingMail:
    """Keep a letter and take it."""
    mail, _ = receive_letter(raw, origin="test")
    return take_letter(mail.pk)


@pytest.fixture
def aside() -> IncomingMail:
    """Return a letter that was set aside."""
    return take(plain("Subject: Holes", "", "It has holes.", "-- ", "A."))


def test_letters_to_look_at_come_first(client, aside):
    """The first page holds what wants a person; the rest is one click away."""
    take(letter())
    take(letter(Auto_Submitted="auto-replied", subject="Away"))

    page = client.get("/mailroom").content.decode()

    assert "Holes" in page
    assert "Away" not in page
    assert "Away" in client.get("/mailroom?shelf=automatic").content.decode()
    assert "Box with lifted corners" in client.get("/mailroom?shelf=taken").content.decode()
    assert client.get("/mailroom?shelf=odd").status_code == 400


def test_letter_shows_new_words_and_keeps_the_rest_one_click_away(client, aside):
    """What is folded is on the page, in a part that opens."""
    page = client.get(aside.get_absolute_url()).content.decode()

    assert "It has holes." in page
    assert "<details>" in page
    assert "It names no sender" in page


def test_markup_in_a_letter_is_never_markup_on_the_page(client):
    """Words, subject, names and header are escaped wherever they stand."""
    evil = "<script>x()</script><b hx-post=/cases/1/close>y</b>"
    mail = take(letter(evil, subject=evil, sender=f'"{evil}" <a@tarnstreet.example>'))

    page = client.get(mail.get_absolute_url()).content.decode()

    assert "<script>x()" not in page
    assert "<b hx-post" not in page
    assert "&lt;script&gt;" in page


def test_raw_letter_is_a_download_that_nothing_runs(client, aside):
    """A browser is told neither to show nor to guess it."""
    answer = client.get(reverse("mailroom:raw", args=[aside.pk]))

    assert answer["Content-Disposition"].startswith("attachment")
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert b"".join(answer.streaming_content).startswith(b"Subject: Holes")


def test_reviewer_opens_a_case(client, aside):
    """One tap; the reviewer lands on the new case."""
    answer = client.post(reverse("mailroom:new_case", args=[aside.pk]))

    case = Case.objects.get()
    assert answer.url == case.get_absolute_url()
    assert case.reports.get().story == "It has holes."
    assert case.events.filter(kind="mail").exists()


def test_reviewer_adds_a_letter_to_a_case(client, aside):
    """The number of the case is enough; a wrong one is said beside the field."""
    case = make_case()

    wrong = client.post(reverse("mailroom:belongs", args=[aside.pk]), {"case": 999_999})
    right = client.post(reverse("mailroom:belongs", args=[aside.pk]), {"case": case.pk})

    assert wrong.status_code == 422
    assert "There is no case with this number." in wrong.content.decode()
    assert right.url == case.get_absolute_url()
    assert case.messages.get(kind=MessageKind.REPLY).body == "It has holes."


def test_two_reviewers_at_once_decide_once(client, aside):
    """The second is told that somebody was first."""
    client.post(reverse("mailroom:dismiss", args=[aside.pk]))
    answer = client.post(reverse("mailroom:new_case", args=[aside.pk]), follow=True)

    assert "Somebody decided about this letter already." in answer.content.decode()
    assert not Case.objects.exists()


def test_case_lists_its_letters(client):
    """The panel names replies and possible ones."""
    case = make_case()
    take(letter("A new nozzle.", to=reply_address(case.pk), subject="Nozzle"))

    address = reverse("mailroom:case_letters", args=[case.pk])
    page = client.get(address, headers={"HX-Request": "true"})

    assert page.content.decode().strip().startswith('<div id="case-letters">')
    assert "Nozzle" in page.content.decode()


def test_erasure_leaves_the_sum_of_the_bytes_and_nothing_else(client):
    """What a person wrote is gone; the same letter once more brings nothing back."""
    raw = letter("My name is Zephyrine.", sender="Zephyrine <zephyrine@tarnstreet.example>")
    mail = take(raw)
    case = Case.objects.get()
    erase_parts(case)
    erase_person(case, by="the person")

    mail.refresh_from_db()
    assert mail.state == MailState.ERASED
    values = [str(value).lower() for value in IncomingMail.objects.values().get().values()]
    assert not any("zephyrine" in value for value in values)
    assert client.get(mail.get_absolute_url()).status_code == 404
    assert take(raw).state == MailState.ERASED
    assert Case.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_erasure_removes_the_raw_file():
    """The file goes once the erasure is committed."""
    mail = take(letter())
    name = str(mail.file.name)
    erase_parts(Case.objects.get())

    assert not letter_storage().exists(name)
