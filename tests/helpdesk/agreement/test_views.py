"""The pages of second looks and agreement."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.diagnosis.models import Opinion, SecondLook
from helpdesk.diagnosis.opinions import close_opinion, give_opinion
from helpdesk.diagnosis.services import diagnose_case, set_verdict
from tests.factories import make_case, make_user

pytestmark = pytest.mark.django_db
HX: dict[str, Any] = {"HTTP_HX_REQUEST": "true"}
LogIn = Callable[[User], Client]
STORY = "I heard a knocking while it printed, then the top was shifted. The belt is not loose."


@pytest.fixture
def colleague(db: None) -> User:
    """Make the other reviewer of the demo scenario."""
    return make_user("teodor", role="reviewer", first_name="Teodor")


def at(name: str, case: Case) -> str:
    """Return the address of a step on a case."""
    return reverse(f"agreement:{name}", args=[case.pk])


def judged_case(by: User, fault: str = "pulley-loose") -> Case:
    """Return a case with a run and a verdict."""
    case = make_case(story=STORY, title="Pulley again, says Imke")
    diagnose_case(case.pk, cause="report received")
    set_verdict(case, [fault], actor=by)
    return case


def test_second_look_covers_everything_but_the_report(
    reviewer: User, colleague: User, as_user: LogIn
) -> None:
    """Neither the ranking nor the verdict, title, danger or a colleague's name stands there."""
    case = judged_case(reviewer)

    content = as_user(colleague).get(at("second_look", case)).content.decode()

    page = re.sub(r"(?s)<select.*?</select>", "", content)  # which offers every fault
    assert "knocking" in page
    assert "says Imke" not in page
    assert "pulley" not in page.casefold()
    assert "%" not in re.sub(r"(?s).*?<main", "", page)


def test_view_is_kept_changed_closed_and_then_shown(
    reviewer: User, colleague: User, as_user: LogIn
) -> None:
    """The whole way: keep, change, close, and both stand on the case page's part."""
    case, client = judged_case(reviewer), as_user(colleague)
    view = {"main": "motor-skips-steps", "sureness": "unsure", "is_blind": "on"}

    kept = client.post(at("second_look", case), view, follow=True).content.decode()
    away = client.get(case.get_absolute_url())
    changed = client.post(at("second_look", case), view | {"second": "pulley-loose"}, follow=True)
    closed = client.post(at("close_look", case))
    looks = client.get(at("case_looks", case)).content.decode()

    assert "Close my view and open the case" in kept
    assert away.headers["Location"] == at("second_look", case)
    assert changed.status_code == 200
    assert closed.headers["Location"] == case.get_absolute_url() + "#second-looks"
    assert client.get(case.get_absolute_url()).status_code == 200
    assert "Teodor, not sure" in looks
    assert "partly the verdict" in looks
    again = client.post(at("second_look", case), view)
    assert again.headers["Location"] == case.get_absolute_url()
    assert [fault["fault"] for fault in Opinion.objects.get().faults] == [
        "motor-skips-steps",
        "pulley-loose",
    ]


@pytest.mark.parametrize(
    ("view", "words"),
    [
        ({"main": "motor-skips-steps"}, "only from who has seen nothing but the report"),
        ({"is_blind": "on"}, "This field is required"),
        ({"main": "no-such-fault", "is_blind": "on"}, "no-such-fault"),
    ],
)
def test_view_that_is_not_whole_is_refused_with_what_was_typed(
    reviewer: User, colleague: User, as_user: LogIn, view: dict[str, str], words: str
) -> None:
    """The page comes back with the reason, and nothing is kept."""
    response = as_user(colleague).post(
        at("second_look", judged_case(reviewer)), view | {"sureness": "likely"}
    )

    content = response.content.decode()
    assert response.status_code == 422
    assert words in content
    assert '<option value="likely" selected>' in content
    assert not Opinion.objects.exists()


def test_who_knows_the_case_is_sent_elsewhere(reviewer: User, as_user: LogIn) -> None:
    """Who judged it cannot look at it blind, whatever is posted."""
    case, client = judged_case(reviewer), as_user(reviewer)

    shown = client.get(at("second_look", case))
    posted = client.post(at("second_look", case), {"main": "pulley-loose", "is_blind": "on"})

    assert (shown.status_code, posted.status_code) == (409, 409)
    assert "You know this case already" in shown.content.decode()
    assert not Opinion.objects.exists()


def test_closing_without_a_view_says_so(reviewer: User, colleague: User, as_user: LogIn) -> None:
    """Nothing is closed, and the page of the look comes back."""
    response = as_user(colleague).post(at("close_look", judged_case(reviewer)), follow=True)

    assert "not said yet what you make of this case" in response.content.decode()


def test_second_look_is_asked_for_on_the_case_page(
    reviewer: User, colleague: User, as_user: LogIn
) -> None:
    """One press swaps the part, without script it goes back to the case; the colleague sees it."""
    case, client = judged_case(reviewer), as_user(reviewer)
    offered = client.get(at("case_looks", case)).content.decode()

    swapped = client.post(at("ask_look", case), **HX)
    plain = client.post(at("ask_look", case))

    assert "Ask a colleague for a second look" in offered
    assert 'id="case-looks"' in swapped.content.decode()
    assert "<html" not in swapped.content.decode()
    assert swapped.headers["Desk-Said"] == "A second look is asked for."
    assert plain.headers["Location"] == case.get_absolute_url() + "#second-looks"
    assert SecondLook.objects.get().asked_by == reviewer
    listed = as_user(colleague).get(reverse("agreement:second_looks")).content.decode()
    assert at("second_look", case) in listed
    assert "says Imke" not in listed


def test_case_part_tells_same_and_other_faults(
    reviewer: User, colleague: User, as_user: LogIn
) -> None:
    """Each closed look says how it stands to the verdict; an open one is not there."""
    case, third = judged_case(reviewer), make_user("odalys", role="admin", first_name="Odalys")
    for user, fault in ((colleague, "pulley-loose"), (third, "filament-wet")):
        give_opinion(case, [fault], reviewer=user, is_blind=True)
    close_opinion(case, reviewer=colleague)

    before = as_user(reviewer).get(at("case_looks", case)).content.decode()
    close_opinion(case, reviewer=third)
    after = as_user(reviewer).get(at("case_looks", case)).content.decode()

    assert "the same main fault as the verdict" in before
    assert "Odalys" not in before
    assert "another fault than the verdict" in after


def test_empty_pages_say_what_will_be_there(reviewer: User, as_user: LogIn) -> None:
    """A desk without second looks and verdicts has pages with the next step."""
    client = as_user(reviewer)

    waiting = client.get(reverse("agreement:second_looks")).content.decode()
    agreement = client.get(reverse("agreement:agreement")).content.decode()

    assert "No case waits for a second look from you." in waiting
    assert "No case has been looked at twice yet." in agreement
    assert "No verdict has been set yet." in agreement


def test_agreement_page_shows_pairs_and_months(
    reviewer: User, colleague: User, as_user: LogIn
) -> None:
    """Figures have their warning; with one case no kappa is printed; the drawing has a table."""
    case = judged_case(reviewer)
    give_opinion(case, ["pulley-loose"], reviewer=colleague, is_blind=True)
    close_opinion(case, reviewer=colleague)

    content = as_user(reviewer).get(reverse("agreement:agreement")).content.decode()

    assert "Imke and Teodor" in content
    assert "100% [21%–100%]" in content
    assert "Too few to say anything." in content
    assert '<svg class="months"' in content
    assert "style=" not in content
    row = content.split("Imke and Teodor")[1].split("</tr>")[0]
    assert row.count('<td class="num">–</td>') == 2


def test_pages_cost_the_same_queries_whatever_they_list(
    reviewer: User, colleague: User, as_user: LogIn, django_assert_max_num_queries: Any
) -> None:
    """Twelve cases looked at and twelve waiting add no queries."""
    for number in range(12):
        case = judged_case(reviewer)
        give_opinion(case, ["pulley-loose"], reviewer=colleague, is_blind=True)
        close_opinion(case, reviewer=colleague)
        SecondLook.objects.create(
            case=make_case(story=f"Number {number} is stringy."),
            asked_by=reviewer,
            asked_at=case.opened_at,
        )
    client = as_user(colleague)

    with django_assert_max_num_queries(10):
        client.get(reverse("agreement:agreement"))
    with django_assert_max_num_queries(9):
        client.get(reverse("agreement:second_looks"))
