"""Facts that stand in the person's words: shown with the words, kept with one press."""

from collections.abc import Callable
from typing import Any

from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.diagnosis.selectors import find_latest_run, get_view, view_of_run
from helpdesk.diagnosis.services import diagnose_case
from helpdesk.review.read_facts import list_read_facts
from helpdesk.review.services import keep_read_facts
from tests.factories import make_case

HX: dict[str, Any] = {"HTTP_HX_REQUEST": "true"}
STORY = "The corners curl up. My nozzle is at 215 °C, the bed at 55 °C."
LogIn = Callable[[User], Client]


def diagnosed(**fields: Any) -> Case:
    """Open a case with temperatures in its words and let the engine look at it."""
    case = make_case(**({"story": STORY} | fields))
    diagnose_case(case.pk, cause="report received")
    case.refresh_from_db()
    return case


def test_read_facts_come_with_their_words(reviewer: User) -> None:
    """Each value the words hold has its unit and its quote, and is new to an empty field."""
    case = diagnosed()

    read = {fact.field: fact for fact in list_read_facts(case, get_view(case))}

    assert read["nozzle_c"].value == 215
    assert read["nozzle_c"].shown == "215 °C"
    assert "215" in read["nozzle_c"].quote
    assert read["nozzle_c"].is_new


def test_keeping_fills_empty_fields_and_leaves_the_others(reviewer: User) -> None:
    """The empty plate is filled, the nozzle a person gave stays, and who did it is noted."""
    case = diagnosed(facts={"process": "MEX", "material": "PLA", "nozzle_c": 230.0})

    filled = keep_read_facts(case, actor=reviewer)

    case.refresh_from_db()
    assert [fact.field for fact in filled] == ["bed_c"]
    assert (case.nozzle_c, case.bed_c) == (230.0, 55.0)
    assert case.events.filter(kind="facts", actor=reviewer).count() == 1


def test_names_are_read_where_the_case_has_a_field(reviewer: User) -> None:
    """Who made the material and what the printer is called are offered as they were written."""
    story = "My printer is a Voltan K2. The PLA by Marlowe lifts at the corners."
    case = diagnosed(story=story, facts={"process": "MEX", "machine": "old voltan k2, enclosed"})

    filled = keep_read_facts(case, actor=reviewer)

    case.refresh_from_db()
    assert {fact.field for fact in filled} == {"material", "material_maker"}
    assert (case.material, case.material_maker) == ("PLA", "Marlowe")
    assert case.machine == "old voltan k2, enclosed"


def test_page_tells_what_is_worth_checking(reviewer: User, as_user: LogIn) -> None:
    """A value that cannot be meant and words that were passed over stand on the page, unkept."""
    case = diagnosed(story="The corners curl. My nozzle is at 21 °C.\n\n> The bed is at 60 °C.")

    content = as_user(reviewer).get(case.get_absolute_url()).content.decode()

    assert "Worth checking: “<bdi>21 °C</bdi>”, read as nozzle temperature 21 °C." in content
    assert "A nozzle prints between 150 and 450 °C." in content
    assert "Worth checking: Lines quoted from an earlier letter were left out." in content
    assert not list_read_facts(case, get_view(case))


def test_values_of_an_older_run_need_no_checks(reviewer: User) -> None:
    """A run stored before values were checked is shown as it was."""
    case = diagnosed()
    run = find_latest_run(case)
    assert run is not None
    del run.result["checks"]

    assert view_of_run(run).checks == ()


def test_keeping_twice_changes_nothing_more(reviewer: User) -> None:
    """A second press finds nothing to fill and makes no new version."""
    case = diagnosed()
    keep_read_facts(case, actor=reviewer)
    case.refresh_from_db()
    version = case.version

    assert keep_read_facts(case, actor=reviewer) == []

    case.refresh_from_db()
    assert case.version == version


def test_page_offers_it_and_speaks_what_was_kept(reviewer: User, as_user: LogIn) -> None:
    """The button stands beside the words; afterwards the fact is shown and the button gone."""
    case = diagnosed()
    client = as_user(reviewer)
    assert b"Keep what was read as facts" in client.get(case.get_absolute_url()).content

    response = client.post(reverse("review:read_facts", args=[case.pk]), **HX)

    assert "215 / 55 °C" in response.content.decode()
    assert b"Keep what was read as facts" not in response.content
    assert "215" in response["Desk-Said"]
    case.refresh_from_db()
    assert case.nozzle_c == 215


def test_value_against_the_facts_is_told_and_not_offered(reviewer: User, as_user: LogIn) -> None:
    """Where a person gave another value, the page says so and offers no press."""
    case = diagnosed(facts={"process": "MEX", "material": "PLA", "nozzle_c": 230.0, "bed_c": 55.0})

    content = as_user(reviewer).get(case.get_absolute_url()).content.decode()

    assert "where the facts say otherwise" in content
    assert "Keep what was read as facts" not in content
