"""What of the answers goes when a person is forgotten: they greet and quote that person."""

from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case


@eraser("answers")
def erase_part(case: Case) -> None:
    """Remove every answer."""
    case.answers.all().delete()
