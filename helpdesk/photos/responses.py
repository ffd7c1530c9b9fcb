"""The one way a photo leaves the desk, whoever asks."""

from django.http import FileResponse, Http404
from django.utils.http import content_disposition_header

from helpdesk.core.http import lock_down
from helpdesk.photos.models import Photo, photo_storage

CONTENT_TYPES = {
    "JPEG": "image/jpeg",
    "PNG": "image/png",
    "WEBP": "image/webp",
    "HEIC": "image/heic",
}
SIZES = ("web", "thumb", "original")


def photo_response(photo: Photo, size: str) -> FileResponse:
    """Stream a rendition for a page, or the original as a download that no browser runs.

    Raises Http404 when there is no such file (yet).
    """
    name = getattr(photo, size).name if size in SIZES else ""
    if not name:
        raise Http404("No such photo.")
    is_original = size == "original"
    try:
        file = photo_storage().open(name)
    except FileNotFoundError as error:
        raise Http404("No such photo.") from error
    response = FileResponse(
        file, content_type=CONTENT_TYPES[photo.format] if is_original else "image/jpeg"
    )
    label = photo.label if is_original else f"photo-{photo.pk}-{size}.jpg"
    disposition = content_disposition_header(is_original, label)
    if disposition:
        response["Content-Disposition"] = disposition
    return lock_down(response)
