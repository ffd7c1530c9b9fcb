"""What goes of makers and batches when the person who named them is forgotten."""

import pytest

from helpdesk.accounts.models import User
from helpdesk.keeping.erasing import erase_case
from helpdesk.supply.models import Subject
from helpdesk.supply.statements import write_statement
from tests.helpdesk.supply.makers import NEUTRAL, make_case_of

pytestmark = pytest.mark.django_db


def test_subjects_only_this_report_named_go(reviewer: User) -> None:
    """A batch is in its person's own words, and so is a maker nobody else names."""
    erase_case(make_case_of(batch="from Bettine").pk)

    assert not Subject.objects.exists()


def test_subjects_another_case_names_stay(reviewer: User) -> None:
    case = make_case_of(batch="FM-1")
    make_case_of()

    erase_case(case.pk)

    assert {subject.name for subject in Subject.objects.all()} == {"Fennmoor", "PLA"}


def test_subjects_somebody_wrote_of_stay(reviewer: User) -> None:
    case, other = make_case_of(batch="FM-1"), make_case_of("Quayside Polymers")
    batch = Subject.objects.get(name="FM-1")
    write_statement(batch, other, NEUTRAL, actor=reviewer)

    erase_case(case.pk)

    assert Subject.objects.filter(name="FM-1").exists()
