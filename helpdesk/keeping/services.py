"""Apply the times of keeping, and keep what people tell the desk of their consent."""

from collections.abc import Mapping

from django.db import transaction

from helpdesk.cases.models import Case, ConsentRecord
from helpdesk.cases.services import Consent, Quote, record_consent
from helpdesk.core.errors import WrongStateError
from helpdesk.incoming.services import lock_case
from helpdesk.keeping.erasing import note_removal
from helpdesk.keeping.rules import Rule, list_rules

BATCH = 100
BATCHES = 10  # of one rule in a round; the next round takes the rest


def apply_rules() -> Mapping[str, int]:
    """Remove what is too old, batch by batch; return how many of each kind went."""
    return {kind: apply_rule(rule) for kind, rule in list_rules().items() if rule.days}


def apply_rule(rule: Rule) -> int:
    """Remove what one rule finds, no more than a round's share; return how many went."""
    total = 0
    for _ in range(BATCHES):
        removed, is_full = _apply_batch(rule)
        total += removed
        if not is_full:
            break
    return total


@transaction.atomic
def _apply_batch(rule: Rule) -> tuple[int, bool]:
    """Remove one batch and log it in the same transaction: both are there, or neither."""
    due = rule.list_due()
    ids = list(due.select_for_update().values_list("pk", flat=True)[:BATCH])
    removed = rule.remove(ids) if ids else 0
    if removed:
        note_removal(rule.kind, removed, rule.words)
    return removed, len(ids) == BATCH


@transaction.atomic
def keep_told_consent(
    case_id: int, consent: Consent, *, given_by: str, quote: Quote
) -> ConsentRecord:
    """Keep what a person, or the owner of a print passed on, told the desk that they agree to.

    Raises WrongStateError when the words are missing or the case was erased.
    """
    if not quote.words.strip():
        raise WrongStateError("What they said has to be kept with it.")
    case: Case = lock_case(case_id)
    return record_consent(case, consent, given_by=given_by, quote=quote)
