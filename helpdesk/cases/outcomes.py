"""What a person says became of a print, whichever way they say it."""

from django.db import transaction

from helpdesk.cases.models import Case, CaseState, Outcome, OutcomeResult
from helpdesk.cases.services import PERSON, record_event, record_outcome
from helpdesk.core.errors import WrongStateError
from helpdesk.core.jobs import start_job

# Results that a step of the answer can have brought about.
HELPED = (OutcomeResult.WORKED, OutcomeResult.PARTLY)


@transaction.atomic
def tell_outcome(case_id: int, *, result: str, words: str = "", remedy: str = "") -> Outcome:
    """Keep what became of the print; the same said twice is one outcome.

    Raises WrongStateError when the case was erased meanwhile.
    """
    case = _lock_case(case_id)
    last = _find_last(case)
    if last and (last.result, last.remedy, last.words) == (result, remedy, words):
        return last
    said_by = case.person_name or PERSON
    return record_outcome(case, result=result, remedy=remedy, words=words, said_by=said_by)


@transaction.atomic
def tap_outcome(case_id: int, *, result: str) -> Outcome:
    """Keep a result that was said with one press; pressed again, it is the outcome already told.

    Raises WrongStateError when the case was erased meanwhile.
    """
    case = _lock_case(case_id)
    last = _find_last(case)
    if last and last.result == result:
        return last
    return tell_outcome(case_id, result=result)


@transaction.atomic
def name_step(case_id: int, *, remedy: str) -> Outcome:
    """Add to the outcome told last which step did it.

    Raises WrongStateError when nothing that helped was told last, or the case was erased.
    """
    case = _lock_case(case_id)
    outcome = _find_last(case)
    if outcome is None or outcome.result not in HELPED:
        raise WrongStateError("Nothing that helped was told last, so no step can be named.")
    if outcome.remedy == remedy:
        return outcome
    outcome.remedy = remedy
    outcome.save(update_fields=["remedy"])
    record_event(
        case,
        kind="outcome",
        what="Outcome: which step did it",
        actor_name=outcome.said_by,
        data={"remedy": remedy},
    )
    start_job(
        "index-case",
        key=f"index-case:{case.pk}:outcome:{outcome.pk}:{remedy}",
        payload={"case": case.pk},
    )
    return outcome


def _lock_case(case_id: int) -> Case:
    case = Case.objects.select_for_update().get(pk=case_id)
    if case.erased_at:
        raise WrongStateError("This case was erased.")
    return case


def _find_last(case: Case) -> Outcome | None:
    """Return what was told last about the present answer; of an earlier one, the same is news."""
    last = case.outcomes.order_by("said_at", "pk").last()
    is_news = (
        last is not None
        and case.state == CaseState.ANSWERED
        and (last.said_at < case.waiting_since)
    )
    return None if is_news else last
