"""What of the files goes when a person is forgotten: all of them."""

from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case
from helpdesk.printfiles.services import erase_files


@eraser("files")
def erase_part(case: Case) -> None:
    """Remove every file of the case."""
    erase_files(case)
