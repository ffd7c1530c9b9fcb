"""What of the desk's letters goes when a person is forgotten: every letter to them."""

from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case
from helpdesk.outbox.services import erase_letters


@eraser("letters")
def erase_part(case: Case) -> None:
    """Remove the letters and their files."""
    erase_letters(case)
