"""Fetching the pictures of posts, from hosts a token names and no others."""

from django.db import transaction
from django.db.models import F

from helpdesk.api.models import NotePicture
from helpdesk.core.errors import WrongStateError
from helpdesk.incoming.fetching import RefusedAddressError, UnreachableError, fetch
from helpdesk.incoming.services import keep_fetched, lock_case
from helpdesk.printfiles.limits import MAX_BYTES

MOST_TRIES = 6  # below the attempts of a job, so that the last word is written into the case


def fetch_picture(picture_id: int) -> None:
    """Fetch a picture and keep it with its case, once.

    Raises UnreachableError when its server did not answer and another try may help.
    """
    NotePicture.objects.filter(pk=picture_id).update(tries=F("tries") + 1)
    picture = NotePicture.objects.select_related("token").filter(pk=picture_id).first()
    if picture is None:
        return
    try:
        answer = fetch(picture.address, hosts=picture.token.picture_hosts, max_bytes=MAX_BYTES)
    except RefusedAddressError as error:
        _finish(picture_id, refusal=f"It was not fetched. {error} It stands at {picture.address}")
    except UnreachableError as error:
        if picture.tries < MOST_TRIES:
            raise
        _finish(picture_id, refusal=f"It was not fetched. {error} It stands at {picture.address}")
    else:
        _finish(picture_id, content=answer.body)


@transaction.atomic
def _finish(picture_id: int, *, content: bytes = b"", refusal: str = "") -> None:
    """Keep what was fetched, or write why not; whoever comes second finds nothing to do."""
    picture = NotePicture.objects.select_for_update().filter(pk=picture_id).first()
    if picture is None:
        return
    try:
        case = lock_case(picture.case_id)
    except WrongStateError:  # the person had everything erased meanwhile
        picture.delete()
        return
    keep_fetched(
        case,
        label=picture.label,
        alt_text=picture.alt_text,
        content=content,
        refusal=refusal,
        from_follow_up=picture.is_follow_up,
    )
    picture.delete()
