"""What the case page shows of the engine, and what the person can look at."""

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.diagnosis.selectors import get_respondent, get_view, list_numbers
from helpdesk.diagnosis.services import diagnose_case, mark_finding
from tests.factories import make_case
from triage.knowledge import load_knowledge

pytestmark = pytest.mark.django_db

STORY = "The lines got thinner and thinner and the extruder clicks. Corners lift a little too."


@pytest.fixture
def case(db: None) -> Case:
    """Return a case the engine has looked at."""
    found = make_case(story=STORY)
    diagnose_case(found.pk, cause="test")
    return found


def test_case_page_shows_sets_plan_costs_and_what_would_change(
    client: Client, reviewer: User, case: Case
) -> None:
    """Sets of faults, cured so far, the last resort, the prior in decibans."""
    client.force_login(reviewer)

    page = client.get(reverse("review:case", args=[case.pk])).content.decode()

    view = get_view(case)
    assert view is not None
    assert view.sets
    assert "Taken together" in page
    assert "cured by here" in page
    assert "Starts at" in page
    assert ("What would change the order" in page) == bool(view.changes or view.doubts)


def test_numbers_of_a_suspicion_are_shown_with_their_source(
    client: Client, reviewer: User, case: Case
) -> None:
    """As a page, and as a fragment to put in place."""
    client.force_login(reviewer)
    view = get_view(case)
    assert view is not None
    fault = view.suspects[0].fault
    address = reverse("review:numbers", args=[case.pk, fault])

    page = client.get(address).content.decode()
    fragment = client.get(address, headers={"HX-Request": "true"}).content.decode()

    (first, *_) = list_numbers(case, fault)
    assert "<html" in page
    assert "<html" not in fragment
    assert first.source in fragment
    assert first.halved != first.doubled


def test_questions_need_no_tool_the_person_has_not_got(
    client: Client, reviewer: User, case: Case
) -> None:
    """What is refused is kept, and the questions are chosen anew."""
    client.force_login(reviewer)
    mark_finding(case, "corners-lifted", "present", actor=reviewer)
    tools = ["calipers", "scales", "thermometer", "magnifier", "torch", "no such tool"]

    response = client.post(
        reverse("review:respondent", args=[case.pk]), {"sends_photos": "on", "refused": tools}
    )

    assert response.status_code == 302
    kept = get_respondent(case)
    assert (kept.has_print, kept.has_printer, kept.sends_photos) == (False, False, True)
    assert kept.refused_tools == sorted(set(tools) - {"no such tool"})
    view = get_view(case)
    assert view is not None
    assert all(not set(question.needs) & set(tools) for question in view.questions)
    # Without print and printer a measurement is left only where the file can be looked at.
    findings = load_knowledge().findings
    assert all(question.kind != "machine" for question in view.questions)
    measured = [question.finding for question in view.questions if question.kind == "measure"]
    assert all(findings[name].looks_at in ("file", "memory") for name in measured)


def test_questions_together_are_ticked_when_asking_pays(
    client: Client, reviewer: User, case: Case
) -> None:
    """Only those that are worth a letter are ticked beforehand."""
    client.force_login(reviewer)

    page = client.get(reverse("review:case", args=[case.pk]))

    view = get_view(case)
    assert view is not None
    together = [q.finding for q in view.questions if q.is_together] if view.batch_pays else []
    assert page.context["ticked"] == together
