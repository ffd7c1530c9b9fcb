"""The private page: reading changes nothing, and each deed is a post of its own."""

import datetime
import re
from typing import Any

import pytest
from django.apps import apps
from django.test import Client
from django.urls import reverse

from helpdesk.answers.models import Answer
from helpdesk.cases.models import AccessLink, Case, CaseState, MessageKind
from helpdesk.cases.services import (
    Consent,
    add_message,
    add_note,
    change_state,
    issue_link,
    set_danger,
)
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.core.models import Job
from helpdesk.diagnosis.engine import list_findings
from helpdesk.diagnosis.models import FindingMark
from helpdesk.outbox.models import OutgoingMail
from helpdesk.photos import services as photos
from helpdesk.photos.models import Photo, photo_storage
from tests.factories import make_case
from tests.helpdesk.intake.forms_data import KEY, report_data
from tests.helpdesk.pictures import draw_noise, draw_picture, picture_bytes, upload

pytestmark = pytest.mark.django_db


def opened(**case_fields: Any) -> tuple[Case, str]:
    """Return a case and the address of its private page."""
    case = make_case(**case_fields)
    return case, reverse("intake:track", args=[issue_link(case)])


def ask(case: Case, *findings: str, words: str = "One thing would help most.") -> list[str]:
    """Let the desk ask about findings, or about any two of the knowledge; return their ids."""
    ids = list(findings) or [finding.id for finding in list_findings("MEX")[:2]]
    questions = [
        {"finding": finding, "question": f"Is it so ({finding})?", "help": "Look from the side."}
        for finding in ids
    ]
    add_message(
        case, kind=MessageKind.QUESTION, body=words, author_name="Imke", questions=questions
    )
    change_state(case, CaseState.ASKED)
    return ids


def answer(case: Case, text: str = "Please slow down above 40 mm.") -> Answer:
    """Let the desk answer."""
    now = clock.now()
    sent = Answer.objects.create(
        case=case, body=text, edited_at=now, sent_at=now, sent_text=text, sent_via="mail"
    )
    change_state(case, CaseState.ANSWERED)
    return sent


def snapshot() -> dict[str, list[Any]]:
    """Return every row of the desk's own tables."""
    return {
        model._meta.label: list(model._default_manager.order_by("pk").values())
        for model in apps.get_models()
        if model.__module__.startswith("helpdesk.")
    }


def test_track_keeps_its_address_to_itself(client):
    """The page is in no cache and no search engine, and no link from it tells where it was."""
    _, address = opened()

    response = client.get(address)

    assert response.status_code == 200
    assert response["Referrer-Policy"] == "no-referrer"
    assert response["Cache-Control"] == "no-store, private"
    assert response["X-Robots-Tag"] == "noindex, nofollow"
    assert not re.findall(r'(?:src|href)="https?://', response.content.decode())


def test_track_shows_the_address_to_keep_the_first_time(client):
    """After sending the report the address lies open in a field to copy; later it is folded."""
    location = client.post("/report", report_data())["Location"]

    first = client.get(location).content.decode()
    later = client.get(location.partition("?")[0]).content.decode()

    address = "http://testserver" + location.partition("?")[0]
    for page in (first, later):
        assert re.search(rf'<input[^>]*value="{re.escape(address)}"[^>]*readonly', page)
    assert '<details class="keep" open>' in first
    assert '<details class="keep">' in later


def test_track_changes_nothing_however_often_it_is_opened(client):
    """Mail scanners and impatient readers open links: no row changes."""
    case, address = opened()
    ask(case)
    answer(case)
    before = snapshot()

    for _ in range(2):
        for path in ("", "/consent", "/erase", "?new=1"):
            assert client.get(address + path).status_code == 200
            assert client.head(address + path).status_code == 200
    for path in ("/reply", "/outcome"):
        assert client.get(address + path).status_code == 405

    assert snapshot() == before


def test_track_wrong_old_and_revoked_links_look_alike(client):
    """A guessed, an expired, a revoked and an erased link answer with the very same page."""
    pages = set()
    for spoil in (
        {"expires_at": clock.now() - datetime.timedelta(seconds=1)},
        {"revoked_at": clock.now()},
    ):
        case, address = opened()
        AccessLink.objects.filter(case=case).update(**spoil)
        for path in ("", "/consent", "/erase"):
            pages.add(("GET", *_seen(client.get(address + path))))
        for path in ("/reply", "/outcome", "/consent", "/erase"):
            pages.add(("GET", *_seen(client.post(address + path, {}))))
    pages.add(("GET", *_seen(client.get("/t/" + "x" * 32))))
    pages.add(("GET", *_seen(client.get("/t/\U0001f62d"))))
    pages.add(("GET", *_seen(client.get("/t/" + "x" * 32 + "/photos/1/web"))))

    assert len(pages) == 1
    status, referrer, body = pages.pop()[1:]
    assert (status, referrer) == (404, "no-referrer")
    assert reverse("intake:new_link") in body


def _seen(response: Any) -> tuple[int, str, str]:
    """Return what a visitor can tell of an answer."""
    return response.status_code, response["Referrer-Policy"], response.content.decode()


def test_track_posts_need_the_token_of_the_form():
    """Knowing the address is not enough for a foreign page to post to it."""
    case, address = opened()
    strict = Client(enforce_csrf_checks=True)

    for path in ("/reply", "/outcome", "/consent", "/erase"):
        assert strict.post(address + path, {"words": "x"}).status_code == 403

    assert not Case.objects.get(pk=case.pk).erased_at


def form_token(client: Client, address: str) -> str:
    """Return the token that a page's forms carry."""
    page = client.get(address).content.decode()
    found = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
    assert found
    return found[1]


def test_track_posts_work_from_a_page_without_referrer():
    """A browser posts from this page with the origin "null"; with the form's token that is fine."""
    case, address = opened()
    strict = Client(enforce_csrf_checks=True)
    token = form_token(strict, address)

    response = strict.post(
        address + "/reply",
        {"csrfmiddlewaretoken": token, "words": "It hums.", "draft_key": KEY},
        headers={"origin": "null"},
    )

    assert response.status_code == 302
    assert case.messages.get().body == "It hums."


def test_track_posts_from_another_site_are_refused():
    """A foreign origin is refused even with a token."""
    _, address = opened()
    strict = Client(enforce_csrf_checks=True)
    token = form_token(strict, address)

    response = strict.post(
        address + "/erase",
        {"csrfmiddlewaretoken": token},
        headers={"origin": "https://elsewhere.example"},
    )

    assert response.status_code == 403


@pytest.mark.parametrize(
    ("state", "current"),
    [
        (CaseState.RECEIVED, "Received: our turn"),
        (CaseState.ASKED, "Asked: your turn"),
        (CaseState.ANSWERED, "Answered: your turn"),
        (CaseState.CLOSED, "Closed"),
    ],
)
def test_track_shows_the_state_as_layers(client, state, current):
    """Four layers, one of them the present one, in words."""
    case, address = opened()
    change_state(case, state)

    page = client.get(address).content.decode()

    assert page.count('aria-current="step"') == 1
    assert re.search(rf'aria-current="step">\s*<span>{current}</span>', page)
    assert f'data-state="{state}"' in page


def test_track_shows_a_danger_first(client):
    """A case in which the desk sees a danger begins with the caution."""
    case, address = opened(story="There is a burning smell and the plug is scorched and hot.")
    run_due_jobs()
    case.refresh_from_db()
    assert case.danger_name

    page = client.get(address).content.decode()

    assert page.index('class="danger"') < page.index('class="layers"')
    for name in case.danger_name.split("; "):
        assert f"<strong>{name}</strong>" in page


def test_track_shows_a_danger_set_without_a_run(client):
    """A danger set by hand has the general caution."""
    case, address = opened()
    set_danger(case, "Hot plug")

    page = client.get(address).content.decode()

    assert "Hot plug" in page
    assert "Do not open anything that is connected to the mains yourself." in page


def test_track_hides_internal_notes(client, reviewer):
    """What reviewers write to each other is not shown."""
    case, address = opened()
    add_note(case, body="secret-note-text", author=reviewer)

    assert "secret-note-text" not in client.get(address).content.decode()


def test_track_shows_answers_as_text(client):
    """A sent answer stands on the page; markup in it is text."""
    case, address = opened()
    answer(case, "Slow down.\n\n<b>Then</b> cool.")

    page = client.get(address).content.decode()

    assert "<p>Slow down.</p>" in page
    assert "&lt;b&gt;Then&lt;/b&gt;" in page


def test_reply_answers_questions_and_brings_the_case_back(client):
    """Radios become marks from the person, words a message, and it is the desk's turn."""
    case, address = opened()
    first, second = ask(case)
    page = client.get(address).content.decode()
    assert page.count(f'name="seen-{first}"') == 3

    response = client.post(
        f"{address}/reply",
        {
            "draft_key": KEY,
            "words": "The edge curls.",
            f"seen-{first}": "present",
            f"seen-{second}": "absent",
        },
    )

    case.refresh_from_db()
    assert response.status_code == 302
    assert case.state == CaseState.RECEIVED
    marks = {m.finding: (m.state, m.source) for m in FindingMark.objects.filter(case=case)}
    assert marks == {first: ("present", "person"), second: ("absent", "person")}
    reply = case.messages.get(kind=MessageKind.REPLY)
    assert (reply.body, reply.author_name) == ("The edge curls.", "Bettine Halvorsen")
    question = case.messages.get(kind=MessageKind.QUESTION)
    assert [q["reply"] for q in question.questions] == ["present", "absent"]
    assert Job.objects.filter(key=f"diagnose-case:{case.pk}:reply:{reply.pk}").exists()
    assert "It does not" in client.get(address).content.decode()


def test_reply_marks_only_what_was_asked(client):
    """A finding nobody asked for, and a state that is none, change nothing."""
    case, address = opened()
    first, second, third = (finding.id for finding in list_findings("MEX")[:3])
    ask(case, first, second)

    client.post(
        f"{address}/reply",
        {
            "draft_key": KEY,
            "words": "x",
            f"seen-{third}": "present",
            "seen-nonsense": "present",
            f"seen-{first}": "certainly",
        },
    )

    assert not FindingMark.objects.exists()


def test_reply_is_kept_when_the_engine_fails(client, monkeypatch):
    """A fault of the engine costs the person nothing: words and answers stay."""

    def fail(*args, **kwargs):
        raise RuntimeError("planted fault")

    case, address = opened()
    first, _ = ask(case)
    monkeypatch.setattr("helpdesk.diagnosis.services.run_engine", fail)

    response = client.post(
        f"{address}/reply", {"draft_key": KEY, "words": "It curls.", f"seen-{first}": "present"}
    )

    assert response.status_code == 302
    assert case.messages.get(kind=MessageKind.REPLY).body == "It curls."
    assert case.messages.get(kind=MessageKind.QUESTION).questions[0]["reply"] == "present"


def test_reply_twice_is_one_reply(client):
    """The same form sent again adds nothing."""
    case, address = opened()
    ask(case)
    data = {"draft_key": KEY, "words": "The edge curls."}

    for _ in range(2):
        assert client.post(f"{address}/reply", data).status_code == 302

    assert case.messages.filter(kind=MessageKind.REPLY).count() == 1


def test_reply_with_photos_adds_them_to_the_case(client):
    """More photos follow the first ones and are marked as sent later."""
    case, address = opened()
    photos.receive_photo(upload(), label="first.jpg", case=case)

    client.post(
        f"{address}/reply",
        {
            "draft_key": KEY,
            "words": "",
            "photos": [upload(picture_bytes(draw_picture(50, 40)), "more.jpg")],
        },
    )

    assert list(case.photos.values_list("label", "position", "from_follow_up")) == [
        ("first.jpg", 1, False),
        ("more.jpg", 2, True),
    ]


def test_reply_refused_keeps_words_choices_and_photos(client):
    """A bad photo brings the form back with everything else in it."""
    case, address = opened()
    (first,) = ask(case, list_findings("MEX")[0].id)

    response = client.post(
        f"{address}/reply",
        {
            "draft_key": KEY,
            "words": "half a thought",
            f"seen-{first}": "unknown",
            "photos": [upload(), upload(b"", "IMG_0412.jpg")],
        },
    )

    page = response.content.decode()
    assert response.status_code == 422
    assert "<title>Error: " in page
    assert "half a thought" in page
    assert re.search(r'value="unknown"\s+checked', page)
    assert "“IMG_0412.jpg” is empty." in page
    assert Photo.objects.get().draft_key == KEY
    assert not case.messages.filter(kind=MessageKind.REPLY).exists()


def test_reply_without_anything_is_refused(client):
    """An empty reply says what to do."""
    _, address = opened()

    response = client.post(f"{address}/reply", {"draft_key": KEY, "words": "  "})

    assert response.status_code == 422
    assert "There is nothing in the reply yet." in response.content.decode()


@pytest.mark.parametrize("state", [CaseState.ANSWERED, CaseState.CLOSED])
def test_reply_brings_back_an_answered_or_closed_case(client, state):
    """Somebody has to read what comes after the answer."""
    case, address = opened()
    change_state(case, state)

    client.post(f"{address}/reply", {"draft_key": KEY, "words": "It is back."})

    case.refresh_from_db()
    assert case.state == CaseState.RECEIVED


@pytest.mark.parametrize(
    ("result", "state"),
    [
        ("worked", CaseState.CLOSED),
        ("partly", CaseState.ANSWERED),
        ("failed", CaseState.RECEIVED),
        ("untried", CaseState.ANSWERED),
        ("gave_up", CaseState.CLOSED),
    ],
)
def test_outcome_is_kept_and_moves_the_case(client, result, state):
    """A cure closes the case, a failure brings it back; twice the same is told once."""
    case, address = opened()
    answer(case)

    for _ in range(2):
        response = client.post(
            f"{address}/outcome", {"result": result, "outcome_words": "The top is straight."}
        )
        assert response.status_code == 302

    case.refresh_from_db()
    outcome = case.outcomes.get()
    assert (outcome.result, outcome.words) == (result, "The top is straight.")
    assert case.state == state


def test_outcome_needs_one_of_the_results(client):
    """Nothing chosen, or something invented, is refused with a sentence."""
    case, address = opened()
    answer(case)

    for data in ({}, {"result": "splendid"}):
        response = client.post(f"{address}/outcome", data)
        assert response.status_code == 422
        assert 'href="#id_result"' in response.content.decode()
    assert not case.outcomes.exists()


def test_outcome_names_the_step_that_did_it(client):
    """The steps of the answer can be chosen in one tap, beside something else and no idea."""
    case, address = opened()
    sent = answer(case, "Wash the plate with dish soap. Then: Add a brim.")
    sent.actions = ["wash-the-plate", "add-a-brim"]
    sent.save(update_fields=["actions"])

    page = client.get(address).content.decode()
    client.post(f"{address}/outcome", {"result": "partly", "remedy": "something-else"})
    client.post(f"{address}/outcome", {"result": "worked", "remedy": "add-a-brim"})

    for value in ("wash-the-plate", "add-a-brim", "something-else", "not-known"):
        assert f'name="remedy" value="{value}"' in page
    assert list(case.outcomes.values_list("result", "remedy")) == [
        ("partly", "something-else"),
        ("worked", "add-a-brim"),
    ]
    assert "Worked (Add a brim)" in client.get(address).content.decode()


def test_outcome_is_told_with_one_press_and_the_step_with_another(client):
    """The page asks for the step after a cure alone, and refuses what it did not offer."""
    case, address = opened()
    sent = answer(case, "Add a brim.")
    sent.actions = ["add-a-brim"]
    sent.save(update_fields=["actions"])
    post = f"{address}/outcome"

    assert 'name="step"' not in client.get(address).content.decode()
    early, odd = client.post(post, {"step": "add-a-brim"}), client.post(post, {"tap": "splendid"})
    assert (early.status_code, odd.status_code) == (409, 422)
    for _ in range(2):
        client.post(post, {"tap": "worked"})
    assert 'name="step" value="add-a-brim"' in client.get(address).content.decode()
    client.post(post, {"step": "add-a-brim"})

    assert 'name="step"' not in client.get(address).content.decode()
    assert list(case.outcomes.values_list("result", "remedy")) == [("worked", "add-a-brim")]


def test_outcome_keeps_no_step_where_nothing_helped(client):
    """A step left ticked from a first thought is not kept with a failure; any other is refused."""
    case, address = opened()
    sent = answer(case, "Add a brim.")
    sent.actions = ["add-a-brim"]
    sent.save(update_fields=["actions"])

    client.post(f"{address}/outcome", {"result": "failed", "remedy": "add-a-brim"})
    refused = client.post(f"{address}/outcome", {"result": "worked", "remedy": "wash-the-plate"})

    assert case.outcomes.get().remedy == ""
    assert refused.status_code == 422
    assert 'href="#id_remedy"' in refused.content.decode()


def test_consent_is_added_never_changed(client):
    """Withdrawing makes a new record and leaves the earlier proof as it was."""
    case, address = opened(consent=Consent(may_publish_answer=True, may_show_photos=True))
    first = case.consents.get()

    client.post(f"{address}/consent", {"credit_kind": "anonymous"})

    case.refresh_from_db()
    assert not case.may_publish_answer
    assert not case.may_show_photos
    assert case.consents.count() == 2
    first.refresh_from_db()
    assert first.may_publish_answer


def test_consent_of_the_young_waits_for_a_named_guardian(client):
    """The person's own tick opens nothing; a guardian who states a name opens it."""
    case, address = opened(consent=Consent(is_under_16=True))

    client.post(f"{address}/consent", {"may_show_photos": "on", "credit_kind": "anonymous"})
    case = Case.objects.get(pk=case.pk)
    assert case.may_show_photos
    assert not case.may_show_in_public
    assert "waiting for your guardian" in client.get(address).content.decode()

    nameless = client.post(
        f"{address}/consent",
        {"may_show_photos": "on", "credit_kind": "anonymous", "guardian_agrees": "on"},
    )
    assert nameless.status_code == 422
    client.post(
        f"{address}/consent",
        {
            "may_show_photos": "on",
            "credit_kind": "anonymous",
            "guardian_agrees": "on",
            "guardian_name": "Ottoline Halvorsen",
        },
    )
    case = Case.objects.get(pk=case.pk)
    assert case.may_show_in_public
    assert case.consents.latest("pk").given_by == "Ottoline Halvorsen (guardian)"


def test_consent_of_a_guardian_ends_when_more_is_allowed(client):
    """What a guardian agreed to stays; anything beyond needs the guardian again."""
    agreed = Consent(may_show_photos=True, is_under_16=True, guardian_agreed=True)
    case, address = opened(consent=agreed)

    client.post(f"{address}/consent", {"may_show_photos": "on", "credit_kind": "anonymous"})
    case = Case.objects.get(pk=case.pk)
    assert case.may_show_in_public

    client.post(
        f"{address}/consent",
        {"may_show_photos": "on", "may_publish_answer": "on", "credit_kind": "anonymous"},
    )
    case = Case.objects.get(pk=case.pk)
    assert not case.may_show_in_public
    assert not case.may_answer_in_public


def test_consent_age_cannot_be_grown_out_of(client):
    """Posting an age does not undo being under 16."""
    case, address = opened(consent=Consent(is_under_16=True))

    client.post(
        f"{address}/consent", {"may_show_photos": "on", "credit_kind": "anonymous", "age": "over"}
    )

    case.refresh_from_db()
    assert case.is_under_16
    assert not case.may_show_in_public


def test_consent_asks_the_age_once(client):
    """Somebody who allowed nothing before is asked the age when allowing something."""
    _, address = opened()

    response = client.post(f"{address}/consent", {"may_show_photos": "on"})

    assert response.status_code == 422
    assert "whether you are under 16" in response.content.decode()


def test_consent_for_a_print_passed_on_stays_with_its_owner(client):
    """The finder can change the credit and nothing else."""
    case, address = opened(is_own_print=False)

    client.post(
        f"{address}/consent",
        {
            "may_show_photos": "on",
            "may_publish_answer": "on",
            "credit_kind": "name",
            "credit_as": "Bet-TEEN",
            "age": "over",
        },
    )

    case.refresh_from_db()
    assert not case.may_show_photos
    assert not case.may_publish_answer
    assert case.spoken_credit == "Bet-TEEN"


def test_erase_asks_first_and_then_leaves_nothing(
    client, settings, django_capture_on_commit_callbacks
):
    """Planted words are in rows and files before and nowhere after; a nameless line stays."""
    marker = "zanzibarquince"
    with django_capture_on_commit_callbacks(execute=True):
        location = client.post(
            "/report",
            report_data(
                story=f"The corners of my {marker} box curl up from the plate.",
                person_name=f"{marker} name",
                email=f"{marker}@tarnstreet.example",
                tried=f"{marker} tried",
                batch=f"{marker} batch",
                handle=f"{marker} handle",
                credit_kind="name",
                credit_as=f"{marker} aloud",
                age="over",
                keeps_originals="on",
                photos=[upload(picture_bytes(draw_noise(400, 300)), f"{marker}.jpg")],
            ),
        )["Location"]
    address = location.partition("?")[0]
    case = Case.objects.get()
    answer(case, f"Hello {marker}, slow down.")
    with django_capture_on_commit_callbacks(execute=True):
        client.post(f"{address}/outcome", {"result": "worked", "outcome_words": marker})
        client.post(f"{address}/reply", {"draft_key": KEY, "words": f"{marker} reply"})
    photo = Photo.objects.get()
    files = [str(file.name) for file in (photo.original, photo.web, photo.thumb)]
    assert all(photo_storage().exists(name) for name in files)
    assert marker in str(snapshot())

    asked = client.get(f"{address}/erase")
    assert "cannot be undone" in asked.content.decode()
    assert not Case.objects.get().erased_at
    with django_capture_on_commit_callbacks(execute=True):
        response = client.post(f"{address}/erase")

    assert response["Location"] == reverse("intake:erased")
    assert client.get(response["Location"]).status_code == 200
    assert client.get(address).status_code == 404
    assert marker not in str(snapshot())
    assert not any(photo_storage().exists(name) for name in files)
    assert not Photo.objects.exists()
    assert not OutgoingMail.objects.exists()
    case.refresh_from_db()
    assert case.erased_at
    assert case.process == "MEX"
    assert case.events.filter(kind="erased").exists()


def test_track_photo_is_shown_with_the_address_only(client):
    """A photo opens with its own case's address and with no other."""
    case, address = opened()
    _, other = opened()
    photo = photos.receive_photo(upload(), label="a.jpg", case=case)
    photos.prepare_photo(photo.pk)

    own = client.get(f"{address}/photos/{photo.pk}/web")

    assert own.status_code == 200
    assert own["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert own["Referrer-Policy"] == "no-referrer"
    assert client.get(f"{other}/photos/{photo.pk}/web").status_code == 404
    assert client.get(f"{address}/photos/{photo.pk}/original").status_code == 404


def test_track_tells_of_a_photo_that_could_not_be_read(client):
    """The sentence about an unreadable HEIC is on the page."""
    case, address = opened()
    broken = picture_bytes(draw_noise(640, 480), "HEIF")[:-3000]
    photo = photos.receive_photo(upload(broken), label="IMG_7.heic", case=case)
    photos.prepare_photo(photo.pk)

    assert "“IMG_7.heic” is damaged" in client.get(address).content.decode()


def test_new_link_goes_to_the_known_address_and_nowhere_else(client):
    """The page says the same whether the address is known; only a known one gets a letter."""
    make_case(email="bettine@tarnstreet.example")

    known = client.post("/new-link", {"email": "Bettine@TarnStreet.example"})
    unknown = client.post("/new-link", {"email": "stranger@elsewhere.example"})

    assert (known.status_code, known["Location"]) == (unknown.status_code, unknown["Location"])
    mail = OutgoingMail.objects.get()
    assert mail.to == "bettine@tarnstreet.example"
    assert "{private_link}" in mail.text


def test_new_link_letters_are_rare(client):
    """Asking again and again sends one letter an hour for each report."""
    make_case()
    for _ in range(5):
        client.post("/new-link", {"email": "bettine@tarnstreet.example"})

    assert OutgoingMail.objects.count() == 1


def test_new_link_refuses_what_is_no_address(client):
    """A mistyped address is told with a sentence."""
    response = client.post("/new-link", {"email": "bettine"})

    assert response.status_code == 422
    assert response.content.decode().count("Give the e-mail address in full") == 2


@pytest.mark.parametrize("path", ["/help", "/privacy", "/erased", "/new-link", "/new-link/sent"])
def test_public_pages_open_without_an_account(client, path):
    """Help, privacy and what follows a deed are there for everybody."""
    response = client.get(path)

    assert response.status_code == 200
    assert response.content.decode().count("<h1") == 1


def test_reply_keeps_the_photos_of_every_reply(client):
    """A second reply brings its photos too; none is dropped because of earlier ones."""
    case, address = opened()
    for reply in range(2):
        key = f"draft-key-of-a-reply-000{reply}"
        for number in range(8):
            picture = picture_bytes(draw_picture(40 + number, 30 + reply))
            photos.receive_photo(upload(picture), label="a.jpg", draft_key=key)
        client.post(f"{address}/reply", {"draft_key": key, "words": "More photos."})

    assert case.photos.count() == 16


def test_reply_with_too_many_photos_says_so_and_keeps_all(client, monkeypatch):
    """Beyond the room of a case the reply comes back with its words and its photos."""
    monkeypatch.setattr("helpdesk.photos.services.MAX_CASE_PHOTOS", 1)
    case, address = opened()
    for number in range(2):
        picture = picture_bytes(draw_picture(40 + number, 30))
        photos.receive_photo(upload(picture), label="a.jpg", draft_key=KEY)

    response = client.post(f"{address}/reply", {"draft_key": KEY, "words": "My own words."})

    assert response.status_code == 422
    assert "My own words." in response.content.decode()
    assert "room for 1 more" in response.content.decode()
    assert Photo.objects.filter(draft_key=KEY).count() == 2
    assert not case.messages.exists()
