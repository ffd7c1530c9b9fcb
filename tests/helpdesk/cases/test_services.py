"""Steps of a case when two people take them at once, and what erasing leaves."""

import pytest

from helpdesk.cases.errors import TransitionError
from helpdesk.cases.models import Case, CaseState
from helpdesk.cases.services import change_state, claim_case, erase_person, hand_on_case
from tests.factories import make_case, make_user

pytestmark = pytest.mark.django_db


def test_change_state_goes_from_where_the_case_stands_now(reviewer):
    """A page read before a colleague's step takes back nothing and counts on from it."""
    case = make_case()
    stale = Case.objects.get(pk=case.pk)
    change_state(case, CaseState.CLOSED, actor=reviewer)

    change_state(stale, CaseState.CLOSED, actor=reviewer)
    with pytest.raises(TransitionError):
        change_state(stale, CaseState.ASKED, actor=reviewer)

    assert Case.objects.get(pk=case.pk).version == case.version
    assert case.events.filter(kind="state").count() == 1


def test_hand_on_case_never_turns_the_version_back(reviewer):
    """Versions only grow, so a form shown before the change is known to be old."""
    case = make_case()
    stale = Case.objects.get(pk=case.pk)
    claim_case(case.pk, user=reviewer)
    change_state(Case.objects.get(pk=case.pk), CaseState.ASKED)
    before = Case.objects.get(pk=case.pk).version

    hand_on_case(stale, actor=reviewer, to=make_user("teodor"))

    assert Case.objects.get(pk=case.pk).version == before + 1


def test_erase_person_keeps_only_facts_others_share():
    """A usual material stays for the statistics; a printer nobody else names goes."""
    make_case(facts={"material": "PLA", "machine": "Tern 220"})
    case = make_case(facts={"material": "PLA", "machine": "Bettine’s own rig"})

    erase_person(case, by="the person")

    case.refresh_from_db()
    assert (case.material, case.machine) == ("PLA", "")
