"""The pages of the choosing, with and without htmx."""

import pytest
from django.urls import reverse

from helpdesk.cases.services import Consent
from helpdesk.choosing import selectors
from helpdesk.choosing.models import EpisodeRules, Weight, Wish
from helpdesk.choosing.selectors import get_proposal
from helpdesk.choosing.weights import DEFAULTS
from helpdesk.episodes.models import EpisodeState
from tests.helpdesk.choosing.desk import make_show, make_showable, make_showables

pytestmark = pytest.mark.django_db
HTMX = {"HTTP_HX_REQUEST": "true"}


def address(episode, name="choose"):
    return reverse(f"choosing:{name}", args=[episode.number])


def test_page_says_what_is_best_why_and_what_it_displaced(as_user, producer):
    cases = make_showables(9)
    episode = make_show()

    page = as_user(producer).get(address(episode)).content.decode()

    assert "Proven optimal:" in page
    assert "no other set can be worth more" in page
    assert "It was never shown." in page
    assert "would come in" in page
    assert "Put these on the run sheet" in page
    assert all(case.title in page for case in cases)


def test_page_says_what_there_was_no_time_to_work_out(as_user, producer, monkeypatch):
    make_showables(3)
    monkeypatch.setattr(selectors, "ENOUGH_S", 0.0)

    page = as_user(producer).get(address(make_show())).content.decode()

    assert "Proven optimal:" in page
    assert "There was no time to work out what it displaced." in page
    assert "another set may be worth just as much" in page
    assert "nothing would fit" not in page


def test_reviewer_looks_and_has_no_buttons(as_user, reviewer):
    make_showables(3)

    page = as_user(reviewer).get(address(make_show())).content.decode()

    assert "Proven optimal:" in page
    assert "Must have" not in page
    assert "Put these" not in page


def test_page_without_any_case_says_so(as_user, producer):
    page = as_user(producer).get(address(make_show())).content.decode()

    assert "Nothing fits" in page
    assert "No case may be shown yet." in page


def test_page_names_what_to_relax_and_the_button_does_it(as_user, producer):
    make_showables(2)
    held = make_showable("heat-creep", consent=Consent())
    episode = make_show()
    client = as_user(producer)
    client.post(address(episode, "wish"), {"case": held.pk, "kind": "must"})

    page = client.get(address(episode)).content.decode()
    assert "Do without the must-have" in page
    client.post(address(episode, "wish"), {"case": held.pk, "kind": ""})

    assert "Proven optimal:" in client.get(address(episode)).content.decode()


def test_wish_answers_htmx_with_the_proposal_alone_and_says_so(as_user, producer):
    cases = make_showables(4)
    episode = make_show()

    response = as_user(producer).post(
        address(episode, "wish"), {"case": cases[0].pk, "kind": "never"}, **HTMX
    )

    page = response.content.decode()
    assert page.lstrip().startswith('<div id="proposal">')
    assert "stays out" in response["Desk-Said"]
    assert Wish.objects.get().kind == "never"


def test_swap_without_javascript(as_user, producer):
    cases = make_showables(9)
    episode = make_show(slot_s=400)
    chosen = get_proposal(episode).case_ids[0]
    other = next(case.pk for case in cases if case.pk != chosen)

    response = as_user(producer).post(address(episode, "swap"), {"out": chosen, "coming": other})

    assert response.status_code == 302
    assert get_proposal(episode).case_ids == [other]


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("wish", {"case": "x", "kind": "must"}),
        ("wish", {"case": "1", "kind": "perhaps"}),
        ("wish", {}),
        ("wish", {"case": "99999999999999999999", "kind": "must"}),
        ("swap", {"out": "1", "coming": "1"}),
        ("swap", {"out": "1"}),
    ],
)
def test_what_no_button_sends_is_refused(as_user, producer, name, data):
    response = as_user(producer).post(address(make_show(), name), data)

    assert response.status_code == 400
    assert not Wish.objects.exists()


def test_rules_are_kept_and_nonsense_is_refused_with_the_page(as_user, producer):
    make_showables(3)
    episode = make_show()
    client = as_user(producer)
    good = {"most_per_person": "2", "least_families": "1", "least_case_s": "90"}

    assert client.post(address(episode, "rules"), good).status_code == 302
    assert EpisodeRules.objects.get().least_case_s == 90

    for name, value in (("most_per_person", "0"), ("least_families", "-1"), ("least_case_s", "")):
        response = client.post(address(episode, "rules"), good | {name: value})
        assert response.status_code == 422
        assert "Please change what is marked" in response.content.decode()
    assert EpisodeRules.objects.get().most_per_person == 2


def test_put_takes_what_was_seen_and_shows_the_sheet(as_user, producer):
    make_showables(3)
    episode = make_show()
    ids = get_proposal(episode).case_ids
    client = as_user(producer)

    response = client.post(address(episode, "put"), {"case": ids})

    assert response["Location"] == episode.get_absolute_url()
    assert episode.segments.filter(case__isnull=False).count() == 3
    assert "the run sheet has all of it" in client.get(address(episode)).content.decode()


def test_put_of_something_else_changes_nothing(as_user, producer):
    make_showables(3)
    episode = make_show()
    client = as_user(producer)

    for seen in (["x"], ["1", "2"], []):
        response = client.post(address(episode, "put"), {"case": seen}, follow=True)
        assert "nothing was put on it" in response.content.decode()
    assert not episode.segments.filter(case__isnull=False).exists()


def test_episode_that_is_out_has_nothing_to_choose(as_user, producer):
    case = make_showable()
    episode = make_show()
    episode.state = EpisodeState.OUT
    episode.save()
    client = as_user(producer)

    assert "is out." in client.get(address(episode)).content.decode()
    response = client.post(address(episode, "wish"), {"case": case.pk, "kind": "must"}, follow=True)
    assert "its sheet is history now" in response.content.decode()
    late = client.post(address(episode, "wish"), {"case": case.pk, "kind": "must"}, **HTMX)
    assert late.status_code == 409
    assert "its sheet is history now" in late.content.decode()
    assert "Nothing fits" not in late.content.decode()


def test_weights_are_kept_and_nonsense_is_refused(as_user, producer):
    client = as_user(producer)
    page = reverse("choosing:weights")
    values = {reason: str(points) for reason, points in DEFAULTS.items()}

    assert client.get(page).status_code == 200
    assert client.post(page, values | {"story": "55"}).status_code == 302
    assert Weight.objects.get().points == 55

    for name, value in (
        ("story", "101"),
        ("story", "-1"),
        ("waiting", "x"),
        ("family-second", "99"),
    ):
        response = client.post(page, values | {name: value})
        assert response.status_code == 422
    assert Weight.objects.get().points == 55


def test_run_sheet_leads_to_the_choosing(as_user, producer):
    episode = make_show()

    page = as_user(producer).get(episode.get_absolute_url()).content.decode()

    assert address(episode) in page
