"""Fetching the pictures a message only named, from hosts its source may name and no others."""

from django.db import transaction
from django.db.models import F

from helpdesk.core.errors import WrongStateError
from helpdesk.hooks.models import HookPicture, PictureState
from helpdesk.incoming.fetching import RefusedAddressError, UnreachableError, fetch
from helpdesk.incoming.services import keep_fetched, lock_case
from helpdesk.photos.limits import MAX_BYTES

MOST_TRIES = 6  # below the attempts of a job, so that the last word is written into the case


def fetch_picture(picture_id: int) -> None:
    """Fetch a picture and keep it with its case, once.

    Raises UnreachableError when its server did not answer and another try may help.
    """
    picture = _waiting(picture_id)
    if picture is None:
        return
    HookPicture.objects.filter(pk=picture_id).update(tries=F("tries") + 1)
    hosts = picture.message.source.picture_hosts
    try:
        answer = fetch(picture.url, hosts=hosts, max_bytes=MAX_BYTES, accept="image/*")
    except RefusedAddressError as error:
        _finish(picture_id, refusal=str(error))
    except UnreachableError as error:
        if picture.tries + 1 < MOST_TRIES:
            raise
        _finish(picture_id, refusal=str(error))
    else:
        _finish(picture_id, content=answer.body)


@transaction.atomic
def _finish(picture_id: int, *, content: bytes = b"", refusal: str = "") -> None:
    """Keep what was fetched, or write why not; whoever comes second finds nothing to do."""
    picture = _waiting(picture_id)
    if picture is None:
        return
    try:
        case = lock_case(picture.case_id)
    except WrongStateError:  # the person had everything erased meanwhile
        picture.delete()
        return
    kept = keep_fetched(
        case,
        label=picture.label,
        alt_text=picture.alt_text,
        content=content,
        refusal=refusal,
        from_follow_up=picture.is_follow_up,
    )
    is_kept = bool(kept.photos or kept.files)
    picture.state = PictureState.KEPT if is_kept else PictureState.REFUSED
    picture.url = ""
    picture.save(update_fields=["state", "url"])


def _waiting(picture_id: int) -> HookPicture | None:
    """Return a picture that waits, locked where a transaction runs."""
    rows = HookPicture.objects.select_related("message__source")
    if transaction.get_connection().in_atomic_block:
        rows = rows.select_for_update(of=("self",))
    return rows.filter(pk=picture_id, state=PictureState.WAITING).first()
