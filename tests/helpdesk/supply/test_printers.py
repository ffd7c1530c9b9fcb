"""Printers as subjects: every case that names one counts, whenever it was written down."""

from typing import Any

import pytest

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.supply.counting import count_share
from helpdesk.supply.models import Subject
from helpdesk.supply.services import (
    SubjectFacts,
    add_subject,
    change_subject,
    drop_link,
    link_case,
    note_subjects,
)
from tests.factories import make_case
from tests.helpdesk.supply.makers import confirm

pytestmark = pytest.mark.django_db
FAULT = "wiring-overheated"


def case_with(machine: str, person: int) -> Case:
    """Open a case of somebody with a printer."""
    facts = {"process": "MEX", "machine": machine}
    return make_case(facts=facts, email=f"person{person}@tarnstreet.example")


def printer(**more: Any) -> SubjectFacts:
    """Return what is known of a printer."""
    return SubjectFacts(**{"kind": "product", "product_kind": "printer", "name": "Tern 220"} | more)


def cases_of(subject: Subject) -> list[int]:
    """Return the cases that name a subject."""
    return sorted(subject.links.filter(is_dropped=False).values_list("case", flat=True))


def test_cases_from_before_count_as_those_from_after(reviewer: User) -> None:
    """Else one found among one known would stand where it is one of three."""
    early = [case_with("Tern 220", 1), case_with("tern  220", 2)]
    case_with("Plover Mini", 3)

    subject = add_subject(printer(), actor=reviewer)
    late = case_with("Tern 220", 4)
    note_subjects(late.pk)
    confirm(late, reviewer, FAULT)

    assert cases_of(subject) == [*(case.pk for case in early), late.pk]
    share = count_share(subject, FAULT)
    assert (share.hits, share.of) == (1, 3)


def test_another_name_finds_its_cases_and_a_former_one_lets_them_go(reviewer: User) -> None:
    """What somebody linked or took away by hand stays."""
    by_name, by_other = case_with("Tern 220", 1), case_with("the big Tern", 2)
    by_hand, taken = case_with("Plover Mini", 3), case_with("Tern 220", 4)
    subject = add_subject(printer(), actor=reviewer)
    link_case(subject, by_hand, actor=reviewer)
    drop_link(subject, taken, actor=reviewer)

    change_subject(subject.pk, printer(other_names=["The big Tern"]), actor=reviewer)
    assert cases_of(subject) == [by_name.pk, by_other.pk, by_hand.pk]

    change_subject(subject.pk, printer(name="Tern 300"), actor=reviewer)
    assert cases_of(subject) == [by_hand.pk]
    change_subject(subject.pk, printer(), actor=reviewer)
    assert cases_of(subject) == [by_name.pk, by_hand.pk]
