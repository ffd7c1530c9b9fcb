"""Second looks: what a reviewer makes of a case who has seen the report alone."""

from collections.abc import Sequence

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.cases.services import record_event
from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError, WrongStateError
from helpdesk.diagnosis.engine import fault_info
from helpdesk.diagnosis.errors import NotBlindError, OpinionClosedError
from helpdesk.diagnosis.models import Opinion, SecondLook, Sureness

MOST_NAMED = 3  # faults of an opinion
EVENT = "second_look"  # the one kind of event that does not count as having worked on a case


@transaction.atomic
def ask_second_look(case: Case, *, actor: User) -> SecondLook:
    """Ask colleagues to look at a case blind; asking twice asks once.

    Raises WrongStateError for an erased case.
    """
    _refuse_erased(case)
    wish, is_new = SecondLook.objects.get_or_create(
        case=case, defaults={"asked_by": actor, "asked_at": clock.now()}
    )
    if is_new:
        record_event(case, kind="second_look_asked", what="Second look asked for", actor=actor)
    return wish


@transaction.atomic
def give_opinion(
    case: Case, fault_ids: Sequence[str], *, reviewer: User, sureness: str = "", is_blind: bool
) -> Opinion:
    """Keep what a reviewer makes of a case, first the main fault, or correct it while it is open.

    Raises OpinionClosedError once it is closed, NotBlindError for who has worked on the case,
    UnknownThingError for a fault there is not, RefusedInputError for no fault, too many, or for
    who does not say that nothing but the report was seen; WrongStateError for an erased case.
    """
    chosen = list(dict.fromkeys(fault_ids))
    if not 1 <= len(chosen) <= MOST_NAMED:
        raise RefusedInputError(f"Name 1 to {MOST_NAMED} faults; these are {len(chosen)}.")
    if sureness not in ("", *Sureness.values):
        raise RefusedInputError("A reviewer is sure, fairly sure or not sure.")
    if not is_blind:
        raise RefusedInputError("An opinion counts only from who has seen nothing but the report.")
    faults = [{"fault": info.id, "name": info.name} for info in map(fault_info, chosen)]
    locked = Case.objects.select_for_update().get(pk=case.pk)
    _refuse_erased(locked)
    known = locked.opinions.filter(reviewer=reviewer).first()
    if known and known.closed_at:
        raise OpinionClosedError("You have closed your view of this case; it stays as it is.")
    if has_worked_on(locked, reviewer):
        raise NotBlindError("You have worked on this case, so you cannot look at it blind.")
    if known and (known.faults, known.sureness) == (faults, sureness):
        return known
    opinion, is_new = Opinion.objects.update_or_create(
        case=locked,
        reviewer=reviewer,
        defaults={
            "reviewer_name": reviewer.short_name,
            "faults": faults,
            "sureness": sureness,
            "given_at": clock.now(),
        },
    )
    # The record is on the case page, so it does not tell what was named before that is closed.
    what = "Second look taken" if is_new else "Second look corrected"
    record_event(locked, kind=EVENT, what=what, actor=reviewer)
    return opinion


@transaction.atomic
def close_opinion(case: Case, *, reviewer: User) -> Opinion:
    """Close a reviewer's opinion, after which the reviewer may see the rest of the case.

    Raises WrongStateError when there is none; closing twice closes once.
    """
    opinion = Opinion.objects.select_for_update().filter(case=case, reviewer=reviewer).first()
    if opinion is None:
        raise WrongStateError("You have not said yet what you make of this case.")
    if opinion.closed_at is None:
        opinion.closed_at = clock.now()
        opinion.save(update_fields=["closed_at"])
        names = "; ".join(fault["name"] for fault in opinion.faults)
        record_event(case, kind=EVENT, what=f"Second look: {names}", actor=reviewer)
    return opinion


def has_worked_on(case: Case, reviewer: User) -> bool:
    """Return True when a reviewer has or had the case, or has done anything to it."""
    if case.assigned_to_id == reviewer.pk:
        return True
    return case.events.filter(actor=reviewer).exclude(kind=EVENT).exists()


def has_open_opinion(case: Case, reviewer: User) -> bool:
    """Return True when a reviewer's opinion may still be corrected, so the rest stays unseen."""
    return case.opinions.filter(reviewer=reviewer, closed_at__isnull=True).exists()


def _refuse_erased(case: Case) -> None:
    if case.erased_at:
        raise WrongStateError("This case was erased; there is nothing left to look at.")
