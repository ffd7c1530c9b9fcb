"""Enter a report that a reviewer was given somewhere else."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.cases.services import PERSON, Consent, NewReport, Quote, record_consent, record_event
from helpdesk.incoming.services import take_report
from helpdesk.incoming.values import Attachment, TakenReport
from helpdesk.photos.services import attach_draft


@dataclass(frozen=True)
class ToldConsent:
    """What a person told somebody of the desk may be shown: the choice, and their words for it."""

    consent: Consent
    quote: Quote


@transaction.atomic
def enter_report(
    new: NewReport,
    *,
    actor: User,
    draft_key: str,
    attachments: Iterable[Attachment] = (),
    told: ToldConsent | None = None,
) -> TakenReport:
    """Open a case for a report entered by hand; the same form twice is one case.

    Without `told` nothing may be shown. Raises RefusedInputError for one photo too many.
    """
    taken = take_report(new, attachments)
    if not taken.is_new:
        return taken
    attach_draft(draft_key, taken.case)
    record_event(taken.case, kind="entered", what=f"Entered by {actor.short_name}", actor=actor)
    if told:
        given_by = taken.case.person_name or taken.case.handle or PERSON
        record_consent(taken.case, told.consent, given_by=given_by, quote=told.quote)
    return taken
