"""Posts in the inbox: taken once, threaded, finder and owner apart, pictures fetched safely."""

from typing import Any

import pytest

from helpdesk.api.models import NotePicture, PostedNote
from helpdesk.cases.models import Case, Message, MessageKind
from helpdesk.core.jobs import run_due_jobs
from helpdesk.intake.services import erase
from tests.helpdesk.api.calls import Program
from tests.helpdesk.api.conftest import MakeToken
from tests.helpdesk.incoming.servers import answer, serving
from tests.helpdesk.pictures import draw_picture, picture_bytes

pytestmark = pytest.mark.django_db
MEDIA = "application/activity+json"
ID = "https://workshop.example/notes/7"
AUTHOR = {
    "type": "Person",
    "id": "https://workshop.example/users/teo",
    "name": "Teo",
    "preferredUsername": "teo",
}


def a_note(**more: Any) -> dict[str, Any]:
    return {
        "@context": "https://www.w3.org/ns/activitystreams",
        "type": "Note",
        "id": ID,
        "url": "https://workshop.example/@teo/7",
        "attributedTo": AUTHOR,
        "content": "<p>The corners lift.</p>",
    } | more


def test_post_becomes_a_report_with_its_author(bot: Program) -> None:
    response = bot.post("/inbox", a_note(), media=MEDIA)

    case = Case.objects.get()
    assert response.status_code == 201
    assert (case.person_name, case.handle) == ("Teo", "@teo@workshop.example")
    assert case.reports.get().story == "The corners lift."
    assert case.reports.get().link == "https://workshop.example/@teo/7"
    assert case.is_own_print
    assert not case.may_publish_answer


def test_same_post_twice_is_one_case(bot: Program) -> None:
    first = bot.post("/inbox", a_note(), media=MEDIA)
    again = bot.post("/inbox", {"type": "Create", "actor": AUTHOR, "object": a_note()}, media=MEDIA)

    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["ref"] == again.json()["ref"]
    assert Case.objects.count() == 1


def test_post_passed_on_keeps_finder_and_owner_apart(bot: Program) -> None:
    finder = {"type": "Person", "id": "https://other.example/u/ilse", "name": "Ilse"}
    bot.post("/inbox", {"type": "Announce", "actor": finder, "object": a_note()}, media=MEDIA)

    case = Case.objects.get()
    assert (case.is_own_print, case.person_name, case.owner_name) == (False, "Ilse", "Teo")
    assert case.owner_link == "https://workshop.example/@teo/7"


def test_reply_to_a_known_post_goes_to_its_case_once(bot: Program) -> None:
    bot.post("/inbox", a_note(), media=MEDIA)
    reply = a_note(id=f"{ID}1", content="It is a new nozzle.", inReplyTo=ID)
    answers = [bot.post("/inbox", reply, media=MEDIA) for _ in range(2)]
    second = a_note(id=f"{ID}2", content="Brass.", inReplyTo=f"{ID}1")
    bot.post("/inbox", second, media=MEDIA)

    words = Message.objects.filter(kind=MessageKind.REPLY).values_list("body", flat=True)
    assert [response.status_code for response in answers] == [201, 200]
    assert sorted(words) == ["Brass.", "It is a new nozzle."]
    assert Case.objects.count() == 1


def test_reply_to_another_programs_post_opens_nothing_of_it(make_token: MakeToken) -> None:
    (_, first), (_, second) = make_token(), make_token()
    first.post("/inbox", a_note(), media=MEDIA)

    response = second.post(
        "/inbox", a_note(id=f"{ID}1", inReplyTo=ID, content="Mine too."), media=MEDIA
    )

    assert response.status_code == 201
    assert Case.objects.count() == 2
    assert not Message.objects.filter(kind=MessageKind.REPLY).exists()


def test_post_another_program_brought_is_not_handed_out(make_token: MakeToken) -> None:
    (_, first), (_, second) = make_token(), make_token()
    first.post("/inbox", a_note(), media=MEDIA)

    said = second.post("/inbox", a_note(), media=MEDIA).json()

    assert (said["ref"], said["link"]) == (None, None)


def test_erased_post_is_not_taken_again(bot: Program) -> None:
    bot.post("/inbox", a_note(), media=MEDIA)
    erase(Case.objects.get().pk)

    again = bot.post("/inbox", a_note(), media=MEDIA)
    reply = bot.post("/inbox", a_note(id=f"{ID}1", inReplyTo=ID), media=MEDIA)

    assert (again.status_code, reply.status_code) == (410, 410)
    assert Case.objects.count() == 1
    assert "workshop" not in str(list(PostedNote.objects.values()))


@pytest.mark.parametrize("note", [a_note(id=7), a_note(type="Like"), {"type": "Note"}])
def test_malformed_post_is_explained(bot: Program, note: Any) -> None:
    response = bot.post("/inbox", note, media=MEDIA)

    assert response.status_code == 422
    assert response.json()["type"].endswith("/no-note")
    assert not Case.objects.exists()


def test_picture_is_fetched_from_a_named_host(make_token: MakeToken, settings: Any) -> None:
    settings.INSIDE_HOSTS = ["127.0.0.1"]
    _, program = make_token(picture_hosts=["127.0.0.1"])
    content = picture_bytes(draw_picture(64, 48))

    with serving(lambda handler: answer(handler, content)) as port:
        image = {"type": "Image", "url": f"http://127.0.0.1:{port}/box.jpg", "name": "A box"}
        program.post("/inbox", a_note(attachment=image), media=MEDIA)
        run_due_jobs()

    photo = Case.objects.get().photos.get()
    assert (photo.label, photo.alt_text) == ("box.jpg", "A box")
    assert not NotePicture.objects.exists()


@pytest.mark.parametrize("hosts", [[], ["pictures.example"]])
def test_picture_of_another_host_is_not_fetched_but_named(
    make_token: MakeToken, settings: Any, hosts: list[str]
) -> None:
    settings.INSIDE_HOSTS = ["127.0.0.1"]
    asked: list[str] = []
    _, program = make_token(picture_hosts=hosts)

    with serving(lambda handler: asked.append(handler.path)) as port:
        address = f"http://127.0.0.1:{port}/box.jpg"
        image = {"type": "Image", "url": address}
        program.post("/inbox", a_note(attachment=image), media=MEDIA)
        run_due_jobs()

    case = Case.objects.get()
    assert asked == []
    assert not case.photos.exists()
    assert address in case.events.get(kind="attachment").why
