"""The panel on the case page and the list of pairs: decide, undo, join by number, part."""

import pytest
from django.urls import reverse

from helpdesk.cases.joining import join_cases
from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.duplicates.models import Proposal, ProposalState
from tests.factories import make_case

pytestmark = pytest.mark.django_db
REASONS = [
    {"kind": "link", "words": "Both came from the same place on the net.", "weight": 7.0},
    {"kind": "clash", "words": "They tell of different printers or materials.", "weight": -2.0},
]
HTMX = {"HX-Request": "true"}


@pytest.fixture
def proposal(db):
    first, second = make_case(), make_case(email="joost.wold@millrace.example")
    return Proposal.objects.create(
        first=first, second=second, probability=0.983, reasons=REASONS, made_at=clock.now()
    )


def _read(proposal):
    proposal.refresh_from_db()
    return proposal


def test_the_panel_shows_the_other_case_with_reasons(proposal, reviewer, as_user):
    page = as_user(reviewer).get(reverse("duplicates:panel", args=[proposal.second_id]))

    words = page.content.decode()
    assert "Very likely" in words
    assert "98 %" in words
    assert "Against: </span>They tell of different printers" in words
    assert reverse("review:case", args=[proposal.first_id]) in words


def test_same_print_joins_and_undo_parts_again(proposal, reviewer, as_user):
    client = as_user(reviewer)

    client.post(reverse("duplicates:decide", args=[proposal.pk]), {"answer": "same"})
    assert Case.objects.get(pk=proposal.second_id).joined_to_id == proposal.first_id
    assert _read(proposal).decided_by == reviewer
    page = client.get(reverse("duplicates:proposals")).content.decode()
    assert "the same print" in page

    client.post(reverse("duplicates:undo", args=[proposal.pk]))
    assert Case.objects.get(pk=proposal.second_id).joined_to is None
    assert _read(proposal).state == ProposalState.OPEN


def test_a_decision_by_htmx_gives_the_panel_back(proposal, reviewer, as_user):
    response = as_user(reviewer).post(
        reverse("duplicates:decide", args=[proposal.pk]),
        {"answer": "apart", "case": proposal.first_id},
        headers=HTMX,
    )

    words = response.content.decode()
    assert words.lstrip().startswith('<div id="case-duplicates"')
    assert "No other case looks like the same print." in words


def test_decide_refuses_another_answer(proposal, reviewer, as_user):
    response = as_user(reviewer).post(
        reverse("duplicates:decide", args=[proposal.pk]), {"answer": "maybe"}
    )

    assert response.status_code == 400
    assert _read(proposal).state == ProposalState.OPEN


@pytest.mark.parametrize("into", ["", "417x", "0", "999999", str(10**30), "itself"])
def test_join_refuses_what_is_no_other_case(into, reviewer, as_user):
    case = make_case()
    typed = str(case.pk) if into == "itself" else into

    response = as_user(reviewer).post(reverse("duplicates:join", args=[case.pk]), {"into": typed})

    assert response.status_code == 422
    assert "Error: " in response.content.decode()


def test_join_by_number_and_part(reviewer, as_user):
    case, other = make_case(), make_case()
    client = as_user(reviewer)

    client.post(reverse("duplicates:join", args=[case.pk]), {"into": other.pk})
    case.refresh_from_db()
    assert case.joined_to == other

    client.post(reverse("duplicates:part", args=[case.pk]))
    case.refresh_from_db()
    assert case.joined_to is None


def test_the_lead_shows_what_is_joined_to_it(reviewer, as_user):
    lead, joined = make_case(), make_case(story="The brim let go in the night.")
    join_cases(joined, into=lead)

    words = as_user(reviewer).get(reverse("duplicates:panel", args=[lead.pk])).content.decode()

    assert "The brim let go in the night." in words
    assert reverse("duplicates:part", args=[joined.pk]) in words


def test_likely_keeps_nothing_and_finds_the_address(reviewer, as_user):
    case = make_case()
    client = as_user(reviewer)
    address = reverse("duplicates:likely")

    assert "Nothing here" in client.get(address, {"address": case.email}).content.decode()
    assert client.get(address, {"text": "x" * 20_001}).status_code == 400
