"""Erasing for a person: everything of theirs goes, what is counted stays true."""

from collections import Counter

import pytest
from django.apps import apps
from django.db import connection
from django.urls import reverse

from helpdesk.cases.models import Case, Outcome
from helpdesk.cases.services import Consent, Quote
from helpdesk.core.errors import WrongStateError
from helpdesk.core.jobs import run_due_jobs
from helpdesk.core.models import Job
from helpdesk.diagnosis.models import Verdict
from helpdesk.keeping.erasing import erase_case, erase_everywhere
from helpdesk.keeping.models import RemovalRecord
from helpdesk.keeping.services import keep_told_consent
from helpdesk.people.models import Part, Person, Role
from helpdesk.people.services import note_people
from helpdesk.photos.models import photo_storage
from tests.factories import make_case
from tests.helpdesk.keeping.conftest import MARK, make_full

pytestmark = pytest.mark.django_db


def everything() -> str:
    """Return every row of every table, as text."""
    rows = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # noqa: S608
            rows += [repr(row) for row in cursor.fetchall()]
    assert len(apps.get_models()) > 20
    return "\n".join(rows)


def counts():
    """Return what the desk counts: faults confirmed, outcomes, kinds of printer, states."""
    return (
        Counter(Verdict.objects.values_list("fault", flat=True)),
        Counter(Outcome.objects.values_list("result", flat=True)),
        Counter(Case.objects.values_list("top_fault", flat=True)),
        Counter(Case.objects.values_list("process", flat=True)),
    )


def test_reviewer_erases_a_case_with_a_reason(
    as_user, reviewer, full, django_capture_on_commit_callbacks
):
    address = reverse("keeping:erase_case", args=[full.case.pk])
    desk = as_user(reviewer)
    stored = str(full.case.photos.get().original.name)
    assert MARK in everything()

    assert "cannot be undone" in desk.get(address).content.decode()
    for incomplete in ({}, {"why": "asked in a letter"}, {"is_meant": "on", "why": "because"}):
        assert desk.post(address, incomplete).status_code == 422
    assert not Case.objects.get().erased_at
    with django_capture_on_commit_callbacks(execute=True):
        desk.post(address, {"why": "asked in a letter", "is_meant": "on"})
    run_due_jobs()

    assert MARK not in everything()
    assert not photo_storage().exists(stored)
    record = RemovalRecord.objects.get()
    assert (record.kind, record.count) == ("cases", 1)
    assert "asked in a letter" in record.rule
    assert desk.get(address).status_code == 404


def test_counts_by_fault_and_outcome_stay_true(reviewer, full):
    before = counts()
    assert before[0]["belt-loose"] == 1
    assert before[1]["worked"] == 1

    erase_everywhere(full.person, actor=reviewer, why="asked in person")
    run_due_jobs()

    assert counts() == before


def test_erasing_a_person_takes_all_they_sent_and_their_name_elsewhere(reviewer, full):
    second = make_full(reviewer, story=f"A second {MARK} print.")
    person = full.person
    finder = make_case(
        is_own_print=False,
        owner_name=f"{MARK} Halvorsen",
        owner_link=f"https://social.example/{MARK}",
        email="finder@quay.example",
        person_name="Ilse",
    )
    note_people(finder.pk)
    keep_told_consent(
        finder.pk,
        Consent(may_show_photos=True, credit_kind="name", credit_as="Ilse"),
        given_by=f"{MARK} Halvorsen",
        quote=Quote(f"Fine, says {MARK}.", "the chat"),
    )
    Part.objects.filter(case=finder, role=Role.OWNER).update(person=person)
    Person.objects.exclude(pk__in=Part.objects.values("person")).delete()
    bystander = make_full(
        reviewer,
        story="Theirs stays.",
        person_name="Aurel",
        email="aurel@quay.example",
        handle="",
        handle_where="",
    )

    erased = erase_everywhere(person, actor=reviewer, why="asked in person")
    run_due_jobs()

    assert erased == [full.case.pk, second.case.pk]
    finder.refresh_from_db()
    assert finder.erased_at is None
    assert (finder.person_name, finder.owner_name, finder.owner_link) == ("Ilse", "", "")
    assert (finder.may_show_photos, finder.spoken_credit) == (False, "Ilse")
    assert MARK not in str(list(finder.consents.values()))
    assert not Person.objects.filter(pk=person.pk).exists()
    bystander.case.refresh_from_db()
    assert bystander.case.person_name == "Aurel"
    assert bystander.case.photos.count() == 1
    assert RemovalRecord.objects.get().count == 2


def test_page_erases_everywhere_and_goes_on(as_user, reviewer, full):
    address = reverse("keeping:erase_person", args=[full.person.pk])
    desk = as_user(reviewer)
    assert full.case.title in desk.get(address).content.decode()

    response = desk.post(address, {"why": "a guardian asked", "is_meant": "on"}, follow=True)

    assert "Everything of this person is erased" in response.content.decode()
    assert Case.objects.get(pk=full.case.pk).erased_at
    assert not Person.objects.exists()


def test_erasing_twice_is_refused_and_counted_once(full):
    erase_case(full.case.pk)

    with pytest.raises(WrongStateError, match="erased"):
        erase_case(full.case.pk)


def test_own_page_leaves_a_line_in_the_log(client, full):
    client.post(reverse("intake:erase", args=[full.token]))

    record = RemovalRecord.objects.get()
    assert "private page" in record.rule
    assert not Job.objects.filter(kind="forget-case", state="waiting").exists()
