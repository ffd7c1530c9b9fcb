"""What of the API's records goes when a person is forgotten."""

from helpdesk.api.models import NotePicture, SentKey
from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case


@eraser("api")
def erase_part(case: Case) -> None:
    """Remove what was answered and the addresses of pictures; a bare reference stays.

    The reference tells the program that its case is gone, and the hash of a post's id keeps the
    post from being taken anew.
    """
    SentKey.objects.filter(case=case).update(body={})
    NotePicture.objects.filter(case=case).delete()
