"""Links of a letter: one press tells, opening tells nothing, and nobody makes one up."""

import datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case, CaseState, OutcomeResult
from helpdesk.cases.services import LINK_LIFE, erase_person
from helpdesk.core import clock
from helpdesk.diagnosis.engine import action_info
from helpdesk.followup.links import ANY, SAYINGS, make_token, read_token
from tests.helpdesk.followup.cases import answered, on_day

pytestmark = pytest.mark.django_db
WASH, BRIM = "wash-the-plate", "add-a-brim"


@pytest.fixture
def told(db: None) -> Case:
    """Make a case answered with two steps."""
    case = answered(title="Box <b>one</b>")
    text = " ".join(f"{action_info(name).name}." for name in (WASH, BRIM))
    Answer.objects.create(
        case=case,
        body=text,
        actions=[WASH, BRIM],
        edited_at=case.waiting_since,
        sent_at=case.waiting_since,
        sent_text=text,
        sent_via="mail",
    )
    return case


def _address(case: Case, result: str) -> str:
    return reverse("followup:tell", args=[make_token(case.pk, result)])


def _client() -> Client:
    return Client(enforce_csrf_checks=True)


def test_every_result_has_its_words() -> None:
    """No result can be told elsewhere and not here."""
    assert set(SAYINGS) == set(OutcomeResult.values)


@pytest.mark.parametrize("result", [*SAYINGS, ANY])
def test_opening_a_link_tells_nothing(told: Case, result: str) -> None:
    """A program that opens every link of a letter, with any reading method, casts no vote."""
    address = _address(told, result)

    for method in ("get", "head", "options"):
        getattr(_client(), method)(address)

    told.refresh_from_db()
    assert not told.outcomes.exists()
    assert told.state == CaseState.ANSWERED


@pytest.mark.parametrize("result", SAYINGS)
def test_one_press_tells_one_outcome(told: Case, result: str) -> None:
    """Without cookies, with the null origin of a page that sends no referrer, once or twice."""
    address = _address(told, result)

    for _ in range(2):
        response = _client().post(address, {"result": result}, headers={"Origin": "null"})
        assert response.status_code == 302

    assert told.outcomes.get().result == result
    page = _client().get(address).content.decode()
    assert "Thank you, kept on" in page
    assert ("Which step did it?" in page) == (result in ("worked", "partly"))


def test_step_is_named_with_a_second_press(told: Case) -> None:
    """The steps are the answer's; the chosen one is kept and no longer asked for."""
    address = _address(told, "worked")
    client = _client()
    client.post(address, {"result": "worked"})
    page = client.get(address).content.decode()
    assert action_info(BRIM).name in page

    client.post(address, {"remedy": BRIM})

    assert told.outcomes.get().remedy == BRIM
    assert "Which step did it?" not in client.get(address).content.decode()


def test_link_tells_only_what_it_was_made_for(told: Case) -> None:
    """A link for one result refuses another; the page for any takes each."""
    refused = _client().post(_address(told, "worked"), {"result": "failed"})
    assert refused.status_code == 422
    assert not told.outcomes.exists()

    assert _client().post(_address(told, ANY), {"result": "failed"}).status_code == 302
    assert told.outcomes.get().result == "failed"


@pytest.mark.parametrize(
    "posted", [{}, {"result": "any"}, {"remedy": "no-such-step"}, {"result": "WORKED"}]
)
def test_what_is_not_understood_is_refused(told: Case, posted: dict[str, str]) -> None:
    """Nothing is kept of it."""
    assert _client().post(_address(told, ANY), posted).status_code == 422
    assert not told.outcomes.exists()


def test_step_before_an_outcome_is_refused(told: Case) -> None:
    """There is nothing it could have done yet."""
    assert _client().post(_address(told, ANY), {"remedy": BRIM}).status_code == 409


def test_changed_links_open_nothing(told: Case) -> None:
    """Each character of the token is signed for."""
    token = make_token(told.pk, "worked")
    other = answered()
    forged = [token[:-1] + ("a" if token[-1] != "a" else "b"), token.replace("worked", "failed")]
    forged += [f"{other.pk}-{token.partition('-')[2]}", token + "x", "x", "1-1-worked-" + "a" * 16]
    forged.append(token.replace("-", "-9", 1))

    for made_up in forged:
        assert read_token(made_up) is None
        assert _client().get(f"/how/{made_up}").status_code == 404
    assert read_token(token) is not None


def test_links_end(told: Case) -> None:
    """They live as long as private pages, and not after an erasure."""
    address = _address(told, "worked")
    with clock.standing_at(clock.now() + LINK_LIFE + datetime.timedelta(days=1)):
        assert _client().get(address).status_code == 404
    erase_person(told, by="the person")

    assert _client().get(address).status_code == 404
    assert _client().post(address, {"result": "worked"}).status_code == 404


def test_page_shows_nothing_else_of_the_case(told: Case) -> None:
    """No name, address, story or private page; the title is escaped; nobody may store it."""
    response = _client().get(_address(told, ANY))
    page = response.content.decode()

    for words in ("Bettine", "tarnstreet", "corners of my box", "/t/", "<b>one</b>"):
        assert words not in page
    assert response["Referrer-Policy"] == "no-referrer"
    assert "no-store" in response["Cache-Control"]
    assert "noindex" in response["X-Robots-Tag"]


def test_many_presses_are_slowed(told: Case, settings: Any) -> None:
    """A link that is out cannot fill the case's history."""
    settings.LIMITS = {**settings.LIMITS, "replies": 3}
    address = _address(told, ANY)

    codes = [_client().post(address, {"result": r}).status_code for r in list(SAYINGS)[:4]]

    assert codes == [302, 302, 302, 429]


def test_word_about_an_earlier_answer_is_not_shown_for_the_new_one(told: Case) -> None:
    """After a second answer the page asks anew."""
    with on_day(3):
        _client().post(_address(told, "partly"), {"result": "partly"})
    Answer.objects.filter(case=told).update(sent_at=told.waiting_since + datetime.timedelta(days=9))

    with on_day(20):
        page = _client().get(_address(told, "partly")).content.decode()

    assert "Press the button to tell us" in page
