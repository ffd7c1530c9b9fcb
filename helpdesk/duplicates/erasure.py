"""What of the duplicates goes when a person is forgotten: hashes, small copies and proposals."""

from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case
from helpdesk.duplicates.services import forget_case


@eraser("duplicates")
def erase_part(case: Case) -> None:
    """Remove what the case was recognised by."""
    forget_case(case)
