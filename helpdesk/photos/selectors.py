"""Reading photos."""

from collections.abc import Iterable

from helpdesk.cases.models import Case
from helpdesk.photos.models import Photo, PhotoState

SHOWN = (PhotoState.READY, PhotoState.WAITING)


def list_photos(case: Case) -> list[Photo]:
    """Return a case's photos that can be shown, or soon can, in order."""
    return list(case.photos.filter(state__in=SHOWN))


def list_refused(case: Case) -> list[Photo]:
    """Return a case's photos that turned out to be unreadable, in order."""
    return list(case.photos.filter(state=PhotoState.REFUSED))


def list_draft(draft_key: str) -> list[Photo]:
    """Return the photos of a form that was not sent yet, in order."""
    if not draft_key:
        return []
    return list(Photo.objects.filter(draft_key=draft_key, case__isnull=True))


def find_draft_photo(draft_key: str, photo_id: int) -> Photo | None:
    """Return one photo of an unsent form, or None when it belongs to another."""
    return Photo.objects.filter(pk=photo_id, draft_key=draft_key, case__isnull=True).first()


def list_covers(case_ids: Iterable[int]) -> dict[int, Photo]:
    """Return the first ready photo of each case, in one query."""
    covers: dict[int, Photo] = {}
    ready = Photo.objects.filter(case_id__in=list(case_ids), state=PhotoState.READY)
    for photo in ready.order_by("position", "pk"):
        if photo.case_id is not None:
            covers.setdefault(photo.case_id, photo)
    return covers
