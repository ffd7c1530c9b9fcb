"""Erase cases: at the person's wish, by a reviewer for them, or when their time is over."""

from collections.abc import Sequence

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.cases.erasure import erase_parts
from helpdesk.cases.models import Case
from helpdesk.cases.services import (
    AT_THEIR_WISH,
    PERSON,
    Consent,
    erase_person,
    record_consent,
)
from helpdesk.core import clock
from helpdesk.core.jobs import run_job, start_job
from helpdesk.core.models import Job, JobState
from helpdesk.incoming.services import lock_case
from helpdesk.keeping.models import RemovalRecord
from helpdesk.people.models import Person, Role

OWNER = "the owner"
BY_LINK = "At the person’s wish, on their private page"
BY_DESK = "At the person’s wish, by the desk"


@transaction.atomic
def erase_case(case_id: int, *, by: str = PERSON, what: str = AT_THEIR_WISH) -> Case:
    """Remove a person from a case: words, contact, photos, files, letters, answers, readings.

    What says nothing of them stays: a print went wrong, on what kind of printer and why. Raises
    WrongStateError when it was erased before.
    """
    case = lock_case(case_id)
    erase_parts(case)
    start_job("forget-case", key=f"forget-case:{case.pk}", payload={"case": case.pk})
    return erase_person(case, by=by, what=what)


@transaction.atomic
def erase_for(cases: Sequence[int], *, actor: User, why: str) -> int:
    """Erase cases for their person, because of `why`; return how many were still there."""
    found = list(
        Case.objects.filter(pk__in=cases, erased_at__isnull=True).values_list("pk", flat=True)
    )
    for case_id in found:
        erase_case(case_id, by=actor.short_name)
    if found:
        note_removal("cases", len(found), f"{BY_DESK}: {why}")
    return len(found)


@transaction.atomic
def erase_everywhere(person: Person, *, actor: User, why: str) -> list[int]:
    """Erase every case a person sent, and their name where somebody else passed a print on.

    Returns the numbers of the erased cases.
    """
    sent = person.parts.filter(role=Role.SUBMITTER).values_list("case", flat=True)
    erased = sorted(set(sent))
    others = Case.objects.filter(parts__person=person).exclude(pk__in=erased)
    owned = sorted(set(others.values_list("pk", flat=True)))
    erase_for(erased, actor=actor, why=why)
    for case in Case.objects.select_for_update().filter(pk__in=owned):
        _forget_owner(case)
    Person.objects.filter(pk=person.pk).delete()
    return erased


def _forget_owner(case: Case) -> None:
    """Take the owner out of a case somebody else sent, with what they had agreed to."""
    case.owner_name = case.owner_link = ""
    case.save(update_fields=["owner_name", "owner_link"])
    if case.may_publish_answer or case.may_show_photos:
        finder_only = Consent(credit_kind=case.credit_kind, credit_as=case.credit_as)
        record_consent(case, finder_only, given_by=OWNER)
    told = case.consents.exclude(quote="")
    told.update(quote="", quote_where="", given_by=OWNER)


def finish_erasure(case_id: int) -> None:
    """Take an erased case out of the search index and the run sheets now.

    To be called after the commit. Should it fail, the jobs stay for the worker.
    """
    kinds = ("forget-case", "index-case")
    waiting = Job.objects.filter(kind__in=kinds, payload__case=case_id, state=JobState.WAITING)
    for job_id in waiting.values_list("pk", flat=True):
        run_job(job_id)


def note_removal(kind: str, count: int, rule: str) -> RemovalRecord:
    """Write one line of the log of removals."""
    return RemovalRecord.objects.create(kind=kind, count=count, rule=rule[:120], at=clock.now())
