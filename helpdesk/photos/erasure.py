"""What of a person's photos goes when they are forgotten: all of them."""

from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case
from helpdesk.photos.services import erase_photos


@eraser("photos")
def erase_part(case: Case) -> None:
    """Remove every photo with its files."""
    erase_photos(case)
