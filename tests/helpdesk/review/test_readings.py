"""One tap says that words were misread, or read rightly after all; what was said is kept."""

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.diagnosis.models import ReadingCorrection
from helpdesk.diagnosis.selectors import get_view, list_corrections
from helpdesk.diagnosis.services import diagnose_case, mark_finding
from tests.factories import make_case

pytestmark = pytest.mark.django_db
STORY = (
    "The corners curl up from the plate and there are fine hairs between the towers. It was PLA."
)
FRAGMENT = {"HX-Request": "true"}


@pytest.fixture
def case(db: None) -> Case:
    """Return a case the engine has looked at."""
    found = make_case(story=STORY)
    diagnose_case(found.pk, cause="test")
    return found


def tap(client: Client, case: Case, state: str) -> str:
    """Press the button of the reading about the corners; return what comes back."""
    response = client.post(
        reverse("review:mark_finding", args=[case.pk]),
        {"finding": "corners-lifted", "state": state},
        headers=FRAGMENT,
    )
    assert response.status_code == 200
    return response.content.decode()


def test_each_finding_read_has_its_button(client: Client, reviewer: User, case: Case) -> None:
    client.force_login(reviewer)

    page = client.get(case.get_absolute_url()).content.decode()

    view = get_view(case)
    assert view is not None
    read = [line.finding for line in view.readings if line.finding]
    assert "corners-lifted" in read
    assert all(f'id="read-{name}"' in page for name in read)
    assert page.count("Not so<span") == len(read)


def test_who_only_produces_cannot_correct(client: Client, producer: User, case: Case) -> None:
    client.force_login(producer)

    assert "Not so<span" not in client.get(case.get_absolute_url()).content.decode()


def test_not_so_withdraws_the_reading_and_is_kept_with_its_words(
    client: Client, reviewer: User, case: Case
) -> None:
    client.force_login(reviewer)

    answer = tap(client, case, "unknown")

    assert "Corners have lifted from the plate: present, overruled since" in answer
    view = get_view(case)
    assert view is not None
    line = next(line for line in view.readings if line.finding == "corners-lifted")
    assert line.is_overruled
    kept = list_corrections().get()
    assert (kept.finding, kept.state, kept.is_right) == ("corners-lifted", "present", False)
    assert kept.said_by == reviewer
    assert STORY[kept.start : kept.end] == kept.quote == "corners curl"


def test_so_after_all_turns_the_correction_round(
    client: Client, reviewer: User, case: Case
) -> None:
    client.force_login(reviewer)
    tap(client, case, "unknown")

    tap(client, case, "present")

    kept = ReadingCorrection.objects.get()
    assert kept.is_right
    view = get_view(case)
    assert view is not None
    line = next(line for line in view.readings if line.finding == "corners-lifted")
    assert not line.is_overruled


def test_marks_that_say_nothing_of_a_reading_are_no_corrections(reviewer: User, case: Case) -> None:
    """The person may be mistaken though read rightly; and some findings were not read at all."""
    mark_finding(case, "corners-lifted", "absent", actor=reviewer)
    mark_finding(case, "popping-sounds", "present", actor=reviewer)
    mark_finding(case, "strings-between-parts", "present", source="person")

    assert not ReadingCorrection.objects.exists()


def test_the_page_says_that_a_language_is_not_read(client: Client, reviewer: User) -> None:
    case = make_case(story="Die Ecken meiner Schachtel lösen sich nach einer Stunde vom Druckbett.")
    diagnose_case(case.pk, cause="test")
    client.force_login(reviewer)

    page = client.get(case.get_absolute_url()).content.decode()

    assert "Written in German; only English is read." in page
    assert "Nothing the desk knows stands in these words" not in page
