"""What of a person goes when a case of theirs is erased: their part in it, and who had no other."""

from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case
from helpdesk.people.services import forget_parts


@eraser("people")
def erase_part(case: Case) -> None:
    """Take the case from its people."""
    forget_parts(case)
