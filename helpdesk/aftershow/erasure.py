"""What goes when a case is erased: its people's names in texts edited by hand."""

from helpdesk.aftershow.services import forget_names
from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case


@eraser("aftershow")
def erase_names(case: Case) -> None:
    """Take the names out of descriptions, and the notes of who was told by hand."""
    forget_names(case)
    case.told_by_hand.all().delete()
