"""A report that a reviewer enters by hand."""

import datetime
import json
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case, ConsentRecord, Report
from helpdesk.incoming.notes import note_key
from helpdesk.intake.services import erase
from helpdesk.outbox.models import OutgoingMail
from helpdesk.photos.services import receive_photo
from tests.factories import make_case
from tests.helpdesk.capture.test_chats import BRACKETED
from tests.helpdesk.pictures import draw_picture, picture_bytes

pytestmark = pytest.mark.django_db
KEY = "a-draft-key-of-the-capture-page-1"
LINK = "https://posts.marrowlane.example/1234"
WORDS = "The corners of my rook lift off the plate after an hour."
FORM = {
    "draft_key": KEY,
    "words": WORDS,
    "link": LINK,
    "channel": "social",
    "handle": "@kiln",
    "handle_where": "posts.marrowlane.example",
    "whose": "own",
}


@pytest.fixture
def desk(reviewer: User, as_user: Callable[[User], Client]) -> Client:
    """Return a reviewer's browser."""
    return as_user(reviewer)


def send(desk: Client, **changes: Any) -> Any:
    """Send the form with some fields changed."""
    return desk.post(reverse("capture:paste"), FORM | changes)


def test_words_link_and_person_are_kept(desk: Client, reviewer: User) -> None:
    response = send(desk, person_name="Bettine Halvorsen")

    case = Case.objects.get()
    report = case.reports.get()
    assert response.url == f"/capture?made={case.pk}"
    assert (report.story, report.link, report.channel) == (WORDS, LINK, "social")
    assert (case.handle, case.handle_where) == ("@kiln", "posts.marrowlane.example")
    assert (case.person_name, case.reply_channel) == ("Bettine Halvorsen", "social")
    assert case.events.get(kind="entered").actor == reviewer
    page = desk.get(response.url).content.decode()
    assert f"Case {case.pk} made" in page
    assert case.get_absolute_url() in page


def test_form_sent_twice_is_one_case(desk: Client) -> None:
    first, second = send(desk), send(desk)

    assert first.url == second.url
    assert Case.objects.count() == 1


def test_channel_and_place_are_remembered_and_the_person_is_not(desk: Client) -> None:
    send(desk, channel="chat", handle_where="the workshop’s chat")

    form = desk.get(reverse("capture:paste")).context["form"]

    assert form["channel"].value() == "chat"
    assert form["handle_where"].value() == "the workshop’s chat"
    assert form["handle"].value() is None
    assert form["words"].value() is None


def test_nothing_may_be_shown_unless_told(desk: Client) -> None:
    send(desk)

    record = ConsentRecord.objects.get()
    assert not record.may_publish_answer
    assert not record.may_show_photos
    assert record.quote == ""


def test_consent_as_told_keeps_the_words(desk: Client) -> None:
    send(
        desk,
        quote="Sure, show it, call me Kiln!",
        quote_where="the same thread",
        quote_on="2026-11-20",
        may_show_photos="on",
        credit_kind="name",
        credit_as="Kiln",
        age="over",
    )

    record = ConsentRecord.objects.latest("pk")
    assert record.wording == "told to reviewer"
    assert record.quote == "Sure, show it, call me Kiln!"
    assert record.quote_where == "the same thread, 20 November 2026"
    case = Case.objects.get()
    assert case.may_show_in_public
    assert not case.may_answer_in_public
    assert case.spoken_credit == "Kiln"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"may_show_photos": "on", "age": "over"}, "quote"),
        ({"may_show_photos": "on", "quote": "Show it."}, "age"),
        ({"credit_kind": "name", "quote": "Name me.", "age": "over"}, "credit_as"),
        (
            {"whose": "passed_on", "may_show_photos": "on", "quote": "Show it.", "age": "over"},
            "may_show_photos",
        ),
        ({"quote_on": "2999-01-01"}, "quote_on"),
        ({"quote_on": "soon"}, "quote_on"),
        ({"words": ""}, "words"),
        ({"words": "!!! ..."}, "words"),
        ({"words": "w" * 50_001}, "words"),
        ({"link": "javascript:alert(1)"}, "link"),
        ({"channel": "pigeon"}, "channel"),
        ({"channel": ""}, "channel"),
        ({"handle_where": ""}, "handle_where"),
        ({"email": "nobody"}, "email"),
        ({"whose": "nobody"}, "whose"),
    ],
)
def test_what_is_missing_is_asked_for_and_nothing_is_lost(
    desk: Client, changes: dict[str, str], field: str
) -> None:
    response = send(desk, **changes)

    assert response.status_code == 422
    assert list(response.context["form"].errors) == [field]
    assert not Case.objects.exists()
    for name, value in (FORM | changes).items():
        if name != "draft_key":
            assert response.context["form"][name].value() in (value, value == "on")


def test_somebody_under_16_is_not_shown_on_their_own_word(desk: Client) -> None:
    send(desk, quote="Yes", may_show_photos="on", age="under")

    assert not Case.objects.get().may_show_in_public


def test_finder_and_owner_stay_apart(desk: Client) -> None:
    send(
        desk,
        whose="passed_on",
        owner_name="Ansa",
        quote="Name me as the finder",
        credit_kind="handle",
        age="over",
    )

    case = Case.objects.get()
    assert not case.is_own_print
    assert (case.handle, case.owner_name, case.owner_link) == ("@kiln", "Ansa", LINK)
    assert case.spoken_credit == "@kiln"


@pytest.mark.parametrize(
    ("channel", "email", "reply"),
    [
        ("person", "", "person"),
        ("person", "kiln@tarnstreet.example", "mail"),
        ("other", "", "other"),
        ("chat", "kiln@tarnstreet.example", "chat"),
    ],
)
def test_answer_goes_back_the_way_it_came(
    desk: Client, channel: str, email: str, reply: str
) -> None:
    send(desk, channel=channel, email=email)

    assert Case.objects.get().reply_channel == reply
    assert OutgoingMail.objects.count() == (1 if email else 0)


def test_photos_and_files_are_kept(desk: Client) -> None:
    picture = SimpleUploadedFile("seen.jpg", picture_bytes(draw_picture(64, 64)))
    receive_photo(picture, label="seen.jpg", draft_key=KEY)

    send(
        desk,
        photos=SimpleUploadedFile("close.jpg", picture_bytes(draw_picture(72, 72))),
        files=[SimpleUploadedFile("rook.gcode", b"G28\nG1 X10 E1\n")],
    )

    case = Case.objects.get()
    assert [photo.label for photo in case.photos.all()] == ["seen.jpg", "close.jpg"]
    assert [file.label for file in case.files.all()] == ["rook.gcode"]


def test_file_that_is_not_taken_is_said(desk: Client) -> None:
    response = send(desk, files=[SimpleUploadedFile("run.exe", b"MZ\x90\x00" * 20)])

    page = desk.get(response.url).content.decode()
    assert "run.exe" in page
    assert Case.objects.get().events.filter(kind="attachment").exists()


def test_chat_is_proposed_and_taken_only_when_chosen(desk: Client) -> None:
    seen = desk.post(reverse("capture:look"), {"words": BRACKETED})
    assert "kiln" in seen.content.decode()

    taken = send(desk, words=BRACKETED, handle="", take="words-0")

    assert not Case.objects.exists()
    form = taken.context["form"]
    assert form["handle"].value() == "kiln"
    assert form["words"].value().startswith("The corners lift off the plate.")
    assert "Which plate" not in form["words"].value()
    assert form["link"].value() == LINK


def test_whole_chat_can_be_kept(desk: Client) -> None:
    form = send(desk, words=BRACKETED, handle="", take="person-0").context["form"]

    assert form["handle"].value() == "kiln"
    assert form["words"].value() == BRACKETED


def test_choice_that_is_none_changes_nothing(desk: Client) -> None:
    form = send(desk, take="words-7").context["form"]

    assert form["words"].value() == WORDS
    assert not Case.objects.exists()


def test_known_address_is_shown_before_saving(desk: Client) -> None:
    known = make_case(link=LINK)
    make_case(link=LINK + "5")

    panel = desk.post(reverse("capture:look"), {"words": WORDS, "link": LINK})

    assert f"Case {known.pk}," in panel.content.decode()
    assert panel["Desk-Said"] == f"Perhaps this is here already: case {known.pk}"
    assert panel.content.decode().count("<li>") == 1


def test_pasted_markup_is_shown_as_text(desk: Client) -> None:
    text = "[18:03] <b>: <script>alert(1)</script>\n[18:04] x: &amp;"
    page = desk.post(reverse("capture:look"), {"words": text}).content.decode()

    assert "<script>" not in page


def test_erasing_takes_the_told_words_too(desk: Client) -> None:
    send(desk, quote="Show it.", quote_where="the bench", may_show_photos="on", age="over")
    case = Case.objects.get()

    erase(case.pk)

    texts = json.dumps(
        [
            *ConsentRecord.objects.values("quote", "quote_where", "given_by"),
            *Report.objects.values("story", "link"),
            *case.events.values("why", "actor_name"),
        ]
    )
    for word in ("Show it", "bench", "kiln", LINK, WORDS):
        assert word not in texts


def test_day_of_a_consent_is_today_unless_said(desk: Client) -> None:
    send(desk, quote="Show it.", may_show_photos="on", age="over")

    today = datetime.datetime.now(tz=datetime.UTC).astimezone().date()
    assert f"{today:%-d %B %Y}" in ConsentRecord.objects.latest("pk").quote_where


# W3C ActivityStreams 2.0 Vocabulary, section 3.1 (Announce) with a note as its object.
PASSED_ON_NOTE = {
    "@context": "https://www.w3.org/ns/activitystreams",
    "type": "Announce",
    "actor": {"type": "Person", "id": "https://wall.example/u/teo", "name": "Teo"},
    "object": {
        "type": "Note",
        "id": "https://wall.example/n/1",
        "content": "<p>My rook came out bent.</p>",
        "attributedTo": {"type": "Person", "id": "https://wall.example/u/ansa", "name": "Ansa"},
    },
}


def test_note_behind_a_post_fills_the_form(desk: Client) -> None:
    text = json.dumps(PASSED_ON_NOTE)
    assert "Fill the form" in desk.post(reverse("capture:look"), {"words": text}).content.decode()

    form = send(desk, words=text, link="", handle="", take="note").context["form"]

    assert form["words"].value() == "My rook came out bent."
    assert form["link"].value() == "https://wall.example/n/1"
    assert (form["channel"].value(), form["whose"].value()) == ("social", "passed_on")
    assert (form["handle"].value(), form["person_name"].value()) == ("@teo@wall.example", "Teo")
    assert (form["handle_where"].value(), form["owner_name"].value()) == ("wall.example", "Ansa")


@pytest.mark.parametrize("text", ["{", '{"type": "Note"}', "{" * 3000, '{"id": 4, "type": "Note"}'])
def test_note_that_cannot_be_read_is_said_and_kept_as_words(desk: Client, text: str) -> None:
    panel = desk.post(reverse("capture:look"), {"words": text})

    assert "cannot be read" in panel.content.decode()


def test_note_that_came_by_itself_is_shown_as_known(desk: Client) -> None:
    known = make_case(submission_key=note_key("https://wall.example/n/1"))

    panel = desk.post(reverse("capture:look"), {"words": json.dumps(PASSED_ON_NOTE)})

    assert f"Case {known.pk}," in panel.content.decode()
