"""Times of keeping: what is too old goes once, in batches, and is logged without a name."""

import datetime
from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse

from helpdesk.cases.models import AccessLink, Case, CaseState
from helpdesk.cases.services import change_state, issue_link
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs, run_rounds
from helpdesk.core.models import Job, JobState
from helpdesk.keeping import services
from helpdesk.keeping.models import RemovalRecord
from helpdesk.keeping.rules import list_rules
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.services import note_incoming
from helpdesk.people.models import Contact, Person
from helpdesk.photos.models import Photo, photo_storage
from tests.factories import make_case
from tests.helpdesk.keeping.conftest import MARK

pytestmark = pytest.mark.django_db
OFF = dict.fromkeys(("cases", "contact", "mail", "originals", "log"), 0)


@pytest.fixture
def keep(settings):
    """Return a function that sets times of keeping; the rest is kept."""

    def set_days(**days):
        settings.KEEP_DAYS = OFF | days

    return set_days


def age(days: int) -> datetime.datetime:
    return clock.now() - datetime.timedelta(days=days)


def close(case: Case, days: int) -> Case:
    """Close a case so many days ago."""
    case.refresh_from_db()
    if case.state != CaseState.CLOSED:
        change_state(case, CaseState.CLOSED)
    Case.objects.filter(pk=case.pk).update(closed_at=age(days))
    return case


def log():
    return list(RemovalRecord.objects.order_by("pk").values_list("kind", "count"))


def test_nothing_goes_unless_a_time_is_set(keep, full):
    keep()
    close(full.case, 9_999)

    assert services.apply_rules() == {}
    assert not Case.objects.get().erased_at


def test_cases_go_when_their_time_after_closing_is_over(keep, full):
    keep(cases=30)
    close(full.case, 31)
    young, still_open = close(make_case(), 29), make_case()
    Case.objects.filter(pk=still_open.pk).update(opened_at=age(400))

    assert services.apply_rules()["cases"] == 1
    run_due_jobs()

    full.case.refresh_from_db()
    assert full.case.erased_at
    assert full.case.title == "Cleared when its time was over"
    assert full.case.verdicts.exists()
    for case in (young, still_open):
        case.refresh_from_db()
        assert not case.erased_at
    assert log() == [("cases", 1)]
    assert services.apply_rules()["cases"] == 0
    assert log() == [("cases", 1)]


def test_addresses_go_and_names_stay(keep, full):
    keep(contact=30)
    close(full.case, 31)

    assert services.apply_rules()["contacts"] == 1

    full.case.refresh_from_db()
    assert (full.case.email, full.case.handle, full.case.handle_where) == ("", "", "")
    assert full.case.person_name
    assert not Contact.objects.exists()
    assert Person.objects.get().name == full.case.person_name
    assert not AccessLink.objects.filter(revoked_at__isnull=True).exists()
    assert services.apply_rules()["contacts"] == 0


def test_addresses_of_a_person_with_an_open_case_stay_theirs(keep, full):
    keep(contact=30)
    close(full.case, 31)
    make_case(email=full.case.email)
    run_due_jobs()

    services.apply_rules()

    assert [c.kind for c in Contact.objects.all()] == ["mail"]


def test_letters_go_with_their_files_and_unsent_ones_stay(
    keep, full, settings, django_capture_on_commit_callbacks
):
    keep(mail=10)
    run_due_jobs()
    OutgoingMail.objects.update(sent_at=age(11))
    waiting = OutgoingMail.objects.latest("pk")
    OutgoingMail.objects.filter(pk=waiting.pk).update(sent_at=None)
    gone = OutgoingMail.objects.count() - 1
    note_incoming(full.case, "<a@quay.example>")
    full.case.incoming_ids.update(noted_at=age(11))

    with django_capture_on_commit_callbacks(execute=True):
        done = services.apply_rules()

    assert (done["letters"], done["mail ids"]) == (gone, 1)
    assert OutgoingMail.objects.get() == waiting
    full.answer.refresh_from_db()
    assert full.answer.sent_text


def test_originals_go_and_the_smaller_pictures_stay(keep, full, django_capture_on_commit_callbacks):
    keep(originals=5)
    photo = Photo.objects.get()
    name = str(photo.original.name)
    Photo.objects.update(received_at=age(6))

    with django_capture_on_commit_callbacks(execute=True):
        assert services.apply_rules()["originals"] == 1

    photo.refresh_from_db()
    assert not photo.original
    assert photo_storage().exists(str(photo.web.name))
    assert not photo_storage().exists(name)


def test_finished_work_and_dead_links_go(keep):
    keep(log=7)
    case = make_case()
    run_due_jobs()
    token = issue_link(case)
    AccessLink.objects.update(expires_at=age(8))
    Job.objects.update(state=JobState.DONE, finished_at=age(8))
    failed = Job.objects.earliest("pk")
    Job.objects.filter(pk=failed.pk).update(state=JobState.FAILED)

    done = services.apply_rules()

    assert done["dead links"] == 1
    assert list(Job.objects.all()) == [failed]
    assert token


def test_many_go_in_batches_each_with_its_line(keep, monkeypatch):
    """A round takes its share; the next takes the rest, and none twice."""
    monkeypatch.setattr(services, "BATCH", 3)
    monkeypatch.setattr(services, "BATCHES", 2)
    keep(cases=1)
    for _ in range(8):
        close(make_case(), 2)

    assert services.apply_rules()["cases"] == 6
    assert services.apply_rules()["cases"] == 2

    assert log() == [("cases", 3), ("cases", 3), ("cases", 2)]
    assert not Case.objects.filter(erased_at__isnull=True).exists()


def test_a_batch_that_fails_leaves_neither_removal_nor_line(keep, monkeypatch):
    """The log and the removal are one: a crash between them leaves both as they were."""
    keep(cases=1)
    case = close(make_case(), 2)

    def crash(*args):
        raise OSError("The disk is full")

    monkeypatch.setattr(services, "note_removal", crash)
    with pytest.raises(OSError, match="disk"):
        services.apply_rules()

    case.refresh_from_db()
    assert not case.erased_at
    monkeypatch.undo()
    assert services.apply_rules()["cases"] == 1
    assert log() == [("cases", 1)]


def test_round_of_the_worker_applies_the_rules(keep):
    keep(cases=1)
    case = close(make_case(), 2)

    run_rounds()

    case.refresh_from_db()
    assert case.erased_at


def test_command_counts_first_and_removes_then(keep):
    keep(cases=1)
    close(make_case(), 2)
    out = StringIO()

    call_command("apply_retention", "--dry-run", stdout=out)
    assert "cases: 1 would go (Closed cases, 1 days)" in out.getvalue()
    assert "letters: kept" in out.getvalue()
    assert not RemovalRecord.objects.exists()
    call_command("apply_retention", stdout=out)

    assert "cases: 1 went" in out.getvalue()
    assert log() == [("cases", 1)]


def test_page_of_removals_names_rules_and_nobody(as_user, desk_admin, keep, full):
    keep(cases=30)
    close(full.case, 31)
    desk = as_user(desk_admin)
    before = desk.get(reverse("keeping:removals")).content.decode()
    services.apply_rules()

    page = desk.get(reverse("keeping:removals")).content.decode()

    assert "Closed cases" in before
    assert "Closed cases, 30 days" in page
    assert MARK not in page


def test_every_rule_has_its_setting():
    assert {rule.setting for rule in list_rules().values()} == set(OFF)
