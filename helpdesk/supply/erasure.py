"""What goes when a person is forgotten: what was to be said on their case, and their pictures."""

from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case
from helpdesk.supply.statements import forget_case


@eraser("supply")
def erase_part(case: Case) -> None:
    """Remove the case's statements with their evidence, and its links to subjects."""
    forget_case(case)
