"""Writing recurring texts."""

from django.db import transaction
from django.db.models import F

from helpdesk.accounts.models import User
from helpdesk.conversation.errors import StaleTextError
from helpdesk.conversation.models import SetText
from helpdesk.conversation.placeholders import find_faults
from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError


def make_text(*, title: str, kind: str, body: str, actor: User | None) -> SetText:
    """Write a new text; raises RefusedInputError for a placeholder nobody knows."""
    _check(body)
    return SetText.objects.create(
        title=title, kind=kind, body=body, edited_by=actor, edited_at=clock.now()
    )


@transaction.atomic
def save_text(
    text_id: int, *, title: str, kind: str, body: str, version: int, actor: User
) -> SetText:
    """Save a text if it is still at `version`.

    Raises StaleTextError, holding the text as it is now, and RefusedInputError for a placeholder
    nobody knows.
    """
    _check(body)
    is_won = SetText.objects.filter(pk=text_id, version=version).update(
        title=title,
        kind=kind,
        body=body,
        edited_by=actor,
        edited_at=clock.now(),
        version=F("version") + 1,
    )
    current = SetText.objects.select_related("edited_by").get(pk=text_id)
    if not is_won:
        raise StaleTextError(current)
    return current


@transaction.atomic
def drop_text(text_id: int, *, version: int) -> None:
    """Delete a text if it is still at `version`; raises StaleTextError."""
    current = SetText.objects.select_for_update().select_related(None).get(pk=text_id)
    if current.version != version:
        raise StaleTextError(current)
    current.delete()


def _check(body: str) -> None:
    faults = find_faults(body)
    if faults:
        raise RefusedInputError(" ".join(faults))
