"""What of the readings goes when a person is forgotten: they quote the person's words."""

from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case
from helpdesk.diagnosis.services import erase_corrections


@eraser("diagnosis")
def erase_part(case: Case) -> None:
    """Remove the stored runs and the corrections of readings."""
    case.runs.all().delete()
    erase_corrections(case)
