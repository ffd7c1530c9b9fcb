"""Join cases that are about the same print, and part them again.

One case leads; the others keep their reports, photos, consent, links, credits and state, but leave
the queue. Joining groups is a union: whichever members are named, their leads are joined. Each
function is one transaction and leaves events on every case it touches.
"""

from collections.abc import Sequence

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.cases.erasure import eraser
from helpdesk.cases.errors import JoinError
from helpdesk.cases.models import Case
from helpdesk.cases.services import queue_rank_of, rank_again, record_event


@transaction.atomic
def join_cases(case: Case, *, into: Case, actor: User | None = None, why: str = "") -> Case:
    """Join a case, with all joined to it, to another; return the case that leads now.

    A case joined already is left as it is. Raises JoinError for a case with itself and for an
    erased one.
    """
    if case.pk == into.pk:
        raise JoinError("A case cannot be joined to itself.")
    first, lead = _lock_leads(case.pk, into.pk)
    if first.pk != lead.pk:
        if first.erased_at or lead.erased_at:
            raise JoinError("One of the two cases was erased at the person's wish.")
        followers = list(first.joined.select_for_update().order_by("pk"))
        for follower in followers:
            _place(follower, lead=lead, along_with=follower.joined_with or first)
        _place(first, lead=lead, along_with=None)
        for joined in (first, *followers):
            _note(joined, "joined", f"Joined to case {lead.pk}", lead, actor, why)
            _note(lead, "joined", f"Case {joined.pk} joined to this one", joined, actor, why)
        rank_again(lead)
    for given in (case, into):
        given.refresh_from_db()
    return lead


@transaction.atomic
def part_case(case: Case, *, actor: User | None = None, why: str = "") -> Case:
    """Undo the joining of a case: it stands where it stood, with those it had brought along.

    Returns the case it was joined to. Raises JoinError when it is joined to none.
    """
    lead_id = Case.objects.values_list("joined_to", flat=True).get(pk=case.pk)
    if lead_id is None:
        raise JoinError("This case is not joined to another one.")
    lead = Case.objects.select_for_update().get(pk=lead_id)
    members = list(lead.joined.select_for_update().order_by("pk"))
    parted = next((member for member in members if member.pk == case.pk), None)
    if parted is None:  # somebody parted it between the two reads
        raise JoinError("This case is not joined to another one.")
    followers = _brought_along(parted, members)
    _place(parted, lead=None, along_with=None)
    for follower in followers:
        is_direct = follower.joined_with_id == parted.pk
        _place(follower, lead=parted, along_with=None if is_direct else follower.joined_with)
        _note(follower, "parted", f"Joined to case {parted.pk} again", parted, actor, why)
    for other in (lead, parted):
        rank_again(other)
    _note(parted, "parted", f"No longer joined to case {lead.pk}", lead, actor, why)
    _note(lead, "parted", f"Case {parted.pk} is no longer joined to this one", parted, actor, why)
    case.refresh_from_db()
    return lead


@eraser("joined cases")
@transaction.atomic
def free_joined(lead: Case) -> None:
    """Let the cases joined to a lead go on without it; the oldest of them leads the others."""
    direct = list(lead.joined.filter(joined_with__isnull=True).order_by("opened_at", "pk"))
    for case in direct:
        part_case(case, why="The case they were joined to was erased")
    for case in direct[1:]:
        join_cases(case, into=direct[0], why="They are about the same print")


def _lock_leads(*case_ids: int) -> tuple[Case, Case]:
    """Return the locked leads of two cases, in the order asked; a case may lead itself."""
    # Two who join the same pair the other way round must wait for each other, not lock up.
    list(Case.objects.select_for_update().filter(pk__in=case_ids).order_by("pk"))
    leads = dict(Case.objects.filter(pk__in=case_ids).values_list("pk", "joined_to"))
    wanted = [leads[case_id] or case_id for case_id in case_ids]
    locked = {
        c.pk: c for c in Case.objects.select_for_update().filter(pk__in=wanted).order_by("pk")
    }
    return locked[wanted[0]], locked[wanted[1]]


def _brought_along(parted: Case, members: Sequence[Case]) -> list[Case]:
    """Return the members that came along with a case, or with one of those."""
    found: list[Case] = []
    names = {parted.pk}
    while True:
        more = [m for m in members if m.joined_with_id in names and m not in found]
        if not more:
            return found
        found += more
        names |= {member.pk for member in more}


def _place(case: Case, *, lead: Case | None, along_with: Case | None) -> None:
    """Store which case leads another one."""
    case.joined_to = lead
    case.joined_with = along_with
    case.queue_rank = queue_rank_of(case)
    case.save(update_fields=["joined_to", "joined_with", "queue_rank"])


def _note(case: Case, kind: str, what: str, other: Case, actor: User | None, why: str) -> None:
    record_event(case, kind=kind, what=what, actor=actor, why=why, data={"case": other.pk})
