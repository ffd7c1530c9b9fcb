"""The case page: what it shows, facts, findings, verdicts, questions, record."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case, CaseState, MessageKind
from helpdesk.cases.services import change_state, claim_case, erase_person, update_facts
from helpdesk.core.jobs import run_due_jobs
from helpdesk.diagnosis.selectors import get_view, list_marks, list_verdicts
from helpdesk.diagnosis.services import diagnose_case, mark_finding
from helpdesk.diagnosis.values import SpanView
from helpdesk.review.story import render_story
from tests.factories import make_case, make_user

HX: dict[str, Any] = {"HTTP_HX_REQUEST": "true"}
STORY = "I heard a knocking while it printed, then the top was shifted. The belt is not loose."
LogIn = Callable[[User], Client]


def diagnosed(**fields: Any) -> Case:
    """Open a case and let the engine look at it."""
    case = make_case(**({"story": STORY} | fields))
    diagnose_case(case.pk, cause="report received")
    case.refresh_from_db()
    return case


def at(name: str, case: Case) -> str:
    """Return the address of a step on a case."""
    return reverse(f"review:{name}", args=[case.pk])


def facts_of(case: Case, **typed: Any) -> dict[str, Any]:
    """Return what the facts form of a case posts, with some fields typed anew."""
    names = ("title", "process", "machine", "material", "material_maker", "batch", "tried")
    measures = ("layer_height_mm", "nozzle_mm", "nozzle_c", "bed_c", "speed_mm_s", "failed_at_mm")
    shown = {name: getattr(case, name) for name in names}
    shown |= {n: "" if getattr(case, n) is None else f"{getattr(case, n):g}" for n in measures}
    hidden = {f"initial-{name}": value for name, value in shown.items()}
    return {**shown, **hidden, "version": case.version, **typed}


def test_page_shows_every_step(reviewer: User, as_user: LogIn) -> None:
    """Suspects, findings, questions, plan, answer and record stand on one page."""
    case = diagnosed()
    view = get_view(case)
    assert view is not None

    content = as_user(reviewer).get(case.get_absolute_url()).content.decode()

    for anchor in ("look", "weigh", "ask", "mend", "answer", "record", "answer-panel"):
        assert f'id="{anchor}"' in content
    assert view.suspects[0].name in content
    assert view.plan[0].name in content
    assert '<mark data-read="present"' in content


def test_page_before_the_first_run(reviewer: User, as_user: LogIn) -> None:
    """A case just received says that the desk is still reading."""
    content = as_user(reviewer).get(make_case().get_absolute_url()).content

    assert b"The desk is still reading" in content


def test_page_costs_the_same_queries(
    reviewer: User, as_user: LogIn, django_assert_num_queries: Any
) -> None:
    """Notes, marks and messages add no queries."""
    case = diagnosed()
    client = as_user(reviewer)
    client.get(case.get_absolute_url())
    with CaptureQueriesContext(connection) as few:
        client.get(case.get_absolute_url())
    cost = len(few)
    for finding in ("belt-slack", "knocks-heard", "corners-lifted"):
        mark_finding(case, finding, "present", actor=reviewer)
    for number in range(20):
        client.post(at("note", case), {"body": f"Note {number}"})

    with django_assert_num_queries(cost):
        client.get(case.get_absolute_url())
    assert cost <= 24


def test_script_in_the_story_stays_text(reviewer: User, as_user: LogIn) -> None:
    """Whatever is sent is escaped, marked or not, in every place of the page."""
    evil = "<script>alert(1)</script><img src=x onerror=alert(2)>"
    case = diagnosed(story=f"{evil} {STORY} {evil}", title=evil, person_name=evil, handle=evil)

    content = as_user(reviewer).get(case.get_absolute_url()).content.decode()

    assert "<script>alert" not in content
    assert "<img src=x" not in content
    assert "&lt;script&gt;" in content


@pytest.mark.parametrize(
    "before", ["", "😀👩‍🔧 ", "ההדפסה נכשלה. ", "طباعتي فشلت. ", "<b>&amp;</b> "]
)
def test_marked_words_are_exact(before: str) -> None:
    """The marked piece is the piece that was read, whatever stands before it."""
    story = f"{before}I heard a knocking."
    start = story.index("heard")
    span = SpanView(start, start + 15, "present", 1, "knocks-heard", "Knocks: present")

    html = render_story(story, [span])

    marked = re.search(r"<mark[^>]*>(.*?)<sup>", html)
    assert marked is not None
    assert marked[1] == "heard a knockin"
    assert html.count("<mark") == 1
    assert "<b>" not in html


def test_spans_that_do_not_fit_are_left_out() -> None:
    """An erased or shorter story is shown whole and unmarked."""
    spans = [
        SpanView(0, 5, "present", 1, "a", "A"),
        SpanView(3, 8, "absent", 2, "b", "B"),
        SpanView(90, 99, "tried", 3, "c", "C"),
    ]

    assert render_story("", spans) == ""
    html = render_story("Hello there", spans)
    assert html.count("<mark") == 1


def test_mark_updates_the_panel_in_place(reviewer: User, as_user: LogIn) -> None:
    """The fragment holds the new ranking; the danger, readings, facts and record come with it."""
    case = diagnosed()

    response = as_user(reviewer).post(
        at("mark_finding", case), {"finding": "belt-slack", "state": "present"}, **HX
    )

    content = response.content.decode()
    assert response.status_code == 200
    assert "<html" not in content
    assert re.search(r'id="is-belt-slack-present"[^>]* checked', content)
    assert content.count('hx-swap-oob="true"') == 4
    assert re.search(r"(rose|fell) from \d+%25 to \d+%25", response.headers["Desk-Said"])
    assert "A belt feels slack: present" in content


def test_mark_works_without_script(reviewer: User, as_user: LogIn) -> None:
    """A plain form goes back to the page with a notice."""
    case = diagnosed()

    response = as_user(reviewer).post(
        at("mark_finding", case), {"finding": "belt-slack", "state": "absent"}, follow=True
    )

    assert response.redirect_chain[0][0].endswith("#weigh")
    assert list_marks(case).get().state == "absent"


def test_further_finding_is_found_by_name(reviewer: User, as_user: LogIn) -> None:
    """A name from the list, in any case, marks that finding."""
    case = diagnosed()

    as_user(reviewer).post(
        at("mark_finding", case), {"finding": "a BELT feels slack", "state": "present"}
    )

    assert list_marks(case).get().finding == "belt-slack"


@pytest.mark.parametrize("finding", ["no-such-finding", "", "belt-slack; drop table"])
@pytest.mark.parametrize("extra", [HX, {}])
def test_forged_finding_is_refused_with_a_sentence(
    reviewer: User, as_user: LogIn, finding: str, extra: dict[str, Any]
) -> None:
    """An id there is not changes nothing, keeps what was typed and says so."""
    case = diagnosed()

    response = as_user(reviewer).post(
        at("mark_finding", case), {"finding": finding, "state": "present"}, **extra
    )

    assert response.status_code == 422
    assert b'aria-invalid="true"' in response.content
    assert not list_marks(case).exists()


def test_near_name_is_offered(reviewer: User, as_user: LogIn) -> None:
    """Words that fit several findings are answered with them."""
    response = as_user(reviewer).post(
        at("mark_finding", diagnosed()), {"finding": "belt", "state": "present"}, **HX
    )

    assert b"Did you mean: " in response.content
    assert b"A belt feels slack" in response.content


def test_forged_state_is_refused(reviewer: User, as_user: LogIn) -> None:
    """Our radios send three states only."""
    response = as_user(reviewer).post(
        at("mark_finding", diagnosed()), {"finding": "belt-slack", "state": "maybe"}
    )

    assert response.status_code == 400


def test_marking_keeps_the_ticked_questions(reviewer: User, as_user: LogIn) -> None:
    """The questions ticked so far stay ticked while findings are marked."""
    case = diagnosed()
    view = get_view(case)
    assert view is not None
    kept = view.questions[1].finding

    response = as_user(reviewer).post(
        at("mark_finding", case),
        {"finding": "belt-slack", "state": "absent", "ticks": "1", "ask": [kept]},
        **HX,
    )

    ticked = re.findall(r'name="ask"\s+value="([^"]+)"\s+checked', response.content.decode())
    assert ticked == [kept]


def test_verdict_is_confirmed_and_taken_back(reviewer: User, as_user: LogIn) -> None:
    """One press confirms a suspect, by id or by name; another takes it back."""
    case = diagnosed()
    client = as_user(reviewer)

    client.post(at("verdict", case), {"fault": "belt-loose"}, **HX)
    client.post(at("verdict", case), {"fault": "nozzle-hits-print", "step": "first"}, **HX)
    assert [v.fault for v in list_verdicts(case)] == ["nozzle-hits-print", "belt-loose"]
    response = client.post(at("verdict", case), {"fault": "belt-loose", "step": "drop"}, **HX)

    assert [v.fault for v in list_verdicts(case)] == ["nozzle-hits-print"]
    assert response.headers["Desk-Said"].startswith("Taken back: ")


@pytest.mark.parametrize(
    ("posted", "status"),
    [({"fault": "no-such-fault"}, 422), ({}, 422), ({"fault": "belt-loose", "step": "x"}, 400)],
)
def test_forged_verdict_is_refused(
    reviewer: User, as_user: LogIn, posted: dict[str, str], status: int
) -> None:
    """An unknown fault or step changes nothing."""
    case = diagnosed()

    response = as_user(reviewer).post(at("verdict", case), posted, **HX)

    assert response.status_code == status
    assert not list_verdicts(case).exists()


def test_question_goes_by_mail_once(reviewer: User, as_user: LogIn) -> None:
    """The letter holds question, help and private address; a second press sends nothing."""
    case = diagnosed()
    posted = {"ask": ["belt-slack"], "words": "One thing first."}
    client = as_user(reviewer)

    client.post(at("ask", case), posted, **HX)
    client.post(at("ask", case), posted, **HX)
    run_due_jobs()

    case.refresh_from_db()
    message = case.messages.get(kind=MessageKind.QUESTION)
    assert case.state == CaseState.ASKED
    assert message.questions[0]["finding"] == "belt-slack"
    assert message.questions[0]["reply"] is None
    letters = [letter for letter in mail.outbox if "question" in letter.subject.lower()]
    assert len(letters) == 1
    assert message.questions[0]["question"] in letters[0].body
    assert "One thing first." in letters[0].body
    assert "http://testserver/t/" in letters[0].body


def test_question_without_mail_is_text_to_paste(reviewer: User, as_user: LogIn) -> None:
    """For another channel the page shows the text, its length and a private address."""
    case = diagnosed(email="", reply_channel="chat", handle="hollow_oak")

    response = as_user(reviewer).post(at("ask", case), {"ask": ["belt-slack"]}, **HX)

    content = response.content.decode()
    assert response.status_code == 200
    assert "http://testserver/t/" in content
    assert re.search(r"\d+ characters", content)
    assert case.links.exists()


def test_question_of_a_dangerous_case_begins_with_the_caution(
    reviewer: User, as_user: LogIn
) -> None:
    """Danger stands before the question."""
    case = diagnosed(story=STORY + " There is a burning smell from the plug.")
    view = get_view(case)
    assert view is not None

    as_user(reviewer).post(at("ask", case), {"ask": ["belt-slack"]})
    run_due_jobs()

    body = mail.outbox[-1].body
    assert body.index(view.dangers[0].say) < body.index("belt")


@pytest.mark.parametrize(
    ("posted", "words"),
    [
        ({}, "Tick a question"),
        ({"ask": ["no-such-finding"]}, "The desk knows no finding"),
        ({"words": "x" * 4001}, "longer than a letter"),
    ],
)
def test_empty_or_forged_question_is_refused(
    reviewer: User, as_user: LogIn, posted: dict[str, Any], words: str
) -> None:
    """Nothing is asked and the sentence says why."""
    case = diagnosed()

    response = as_user(reviewer).post(at("ask", case), posted, **HX)

    assert response.status_code == 422
    assert words in response.content.decode()
    assert not case.messages.exists()


def test_closed_case_is_not_asked(reviewer: User, as_user: LogIn) -> None:
    """A question on a closed case is refused until it is opened again."""
    case = diagnosed()
    change_state(case, CaseState.CLOSED)

    response = as_user(reviewer).post(at("ask", case), {"ask": ["belt-slack"]}, **HX)

    assert response.status_code == 409
    assert not case.messages.exists()


def test_facts_are_saved_and_read_again(reviewer: User, as_user: LogIn) -> None:
    """A changed fact bumps the version, leaves an event and starts a new look."""
    case = diagnosed()

    as_user(reviewer).post(at("facts", case), facts_of(case, nozzle_c="225"), **HX)

    case.refresh_from_db()
    assert case.nozzle_c == 225
    assert case.events.filter(kind="facts", actor=reviewer).exists()


def test_stale_save_shows_both_versions_and_loses_nothing(reviewer: User, as_user: LogIn) -> None:
    """Against an older version: 409, both values side by side, saved again knowingly."""
    case = diagnosed()
    posted = facts_of(case, machine="Corvid C1", batch="FM-22")
    teodor = make_user("teodor", first_name="Teodor")
    update_facts(
        case.pk, {"machine": "Plover Mini", "bed_c": 55.0}, version=case.version, actor=teodor
    )
    client = as_user(reviewer)

    response = client.post(at("facts", case), posted, **HX)

    content = response.content.decode()
    assert response.status_code == 409
    assert "Teodor saved these facts" in content
    assert re.search(r"Plover Mini</td><td[^>]*>Corvid C1</td>", content)
    case.refresh_from_db()
    assert (case.machine, case.batch) == ("Plover Mini", "")
    again = dict(re.findall(r'<input type="[a-z]+" name="([^"]+)" value="([^"]*)"', content))
    client.post(at("facts", case), {**facts_of(case), **again, "title": case.title}, **HX)
    case.refresh_from_db()
    assert (case.machine, case.batch, case.bed_c) == ("Corvid C1", "FM-22", 55.0)


def test_stale_save_works_as_a_page_too(reviewer: User, as_user: LogIn) -> None:
    """Without script the whole page comes back with both versions."""
    case = diagnosed()
    posted = facts_of(case, machine="Corvid C1")
    update_facts(case.pk, {"machine": "Plover Mini"}, version=case.version, actor=reviewer)

    response = as_user(reviewer).post(at("facts", case), posted)

    assert response.status_code == 409
    assert b"<html" in response.content
    assert b"Plover Mini" in response.content
    assert b"Corvid C1" in response.content


def test_taking_a_case_does_not_make_its_facts_stale(reviewer: User, as_user: LogIn) -> None:
    """A version that moved on without touching a fact is no conflict."""
    case = diagnosed(facts={"process": "MEX", "nozzle_c": 210.0, "tried": "dried it\r\nbrim"})
    posted = facts_of(case, machine="Corvid C1")
    claim_case(case.pk, user=reviewer)

    response = as_user(reviewer).post(at("facts", case), posted, **HX)

    assert response.status_code == 200
    case.refresh_from_db()
    assert case.machine == "Corvid C1"


@pytest.mark.parametrize(
    "typed", [{"title": ""}, {"nozzle_c": "-3"}, {"bed_c": "hot"}, {"process": "XYZ"}]
)
def test_wrong_fact_is_refused_beside_its_field(
    reviewer: User, as_user: LogIn, typed: dict[str, str]
) -> None:
    """Everything typed stays, the field is marked, nothing is saved."""
    case = diagnosed()

    response = as_user(reviewer).post(
        at("facts", case), facts_of(case, machine="Corvid C1", **typed), **HX
    )

    assert response.status_code == 422
    assert b'value="Corvid C1"' in response.content
    assert b"data-refused" in response.content
    case.refresh_from_db()
    assert case.machine == "Tern 220"


def test_contact_is_masked_until_looked_at(reviewer: User, as_user: LogIn) -> None:
    """The address is hidden; showing it is noted with who looked."""
    case = diagnosed()
    client = as_user(reviewer)
    assert b"bettine@" not in client.get(case.get_absolute_url()).content

    response = client.post(at("reveal", case), **HX)

    assert b"bettine@tarnstreet.example" in response.content
    assert case.events.get(kind="contact_shown").actor == reviewer


def test_note_is_kept_and_shown(reviewer: User, as_user: LogIn) -> None:
    """A note needs words; it stays between people of the desk."""
    case = diagnosed()
    client = as_user(reviewer)
    assert client.post(at("note", case), {"body": " "}, **HX).status_code == 422

    response = client.post(at("note", case), {"body": "Same <cable> as 371"}, **HX)

    assert b"Same &lt;cable&gt; as 371" in response.content
    assert case.messages.get(kind=MessageKind.NOTE).author == reviewer


def test_case_is_handed_on_and_put_back(reviewer: User, as_user: LogIn) -> None:
    """To a colleague, to anybody, and not to somebody who does not review."""
    case = diagnosed()
    teodor = make_user("teodor", first_name="Teodor")
    wren = make_user("wren", role="producer")
    client = as_user(reviewer)

    client.post(at("hand_on", case), {"to": teodor.pk, "why": "resin is yours"})
    case.refresh_from_db()
    assert case.assigned_to == teodor
    assert client.post(at("hand_on", case), {"to": wren.pk}).status_code == 422
    client.post(at("hand_on", case), {"to": ""})

    case.refresh_from_db()
    assert case.assigned_to is None


def test_case_is_closed_and_opened_again(reviewer: User, as_user: LogIn) -> None:
    """Each step is noted with its reason; a step that is not there gives 409."""
    case = diagnosed()
    client = as_user(reviewer)

    client.post(at("close", case), {"why": "told in person"})
    case.refresh_from_db()
    assert case.state == CaseState.CLOSED
    assert case.events.filter(kind="state", why="told in person").exists()
    client.post(at("reopen", case))
    case.refresh_from_db()
    assert case.state == CaseState.RECEIVED


def test_erased_case_shows_no_controls(reviewer: User, as_user: LogIn) -> None:
    """Nothing is left to weigh with, and the page still opens."""
    case = diagnosed()
    erase_person(case, by="the person")

    content = as_user(reviewer).get(case.get_absolute_url()).content.decode()

    assert "The words were erased." in content
    assert at("mark_finding", case) + '"' not in content
