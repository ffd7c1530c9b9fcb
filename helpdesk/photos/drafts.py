"""The photos of an unsent form, which wait under its key."""

import re
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest

from helpdesk.core import limits
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.http import as_int, storable
from helpdesk.photos.limits import ACCEPT, MAX_BYTES, MAX_BYTES_WORDS, MAX_PHOTOS
from helpdesk.photos.models import Photo
from helpdesk.photos.selectors import find_draft_photo, list_draft
from helpdesk.photos.services import describe_photos, receive_photo, remove_photo

KEY = re.compile(r"[A-Za-z0-9_-]{20,40}")
KEY_BYTES = 18  # 144 bits: whoever has the key can see the form's photos
ALT_FIELD = "alt-{}"
TOO_MANY_PHOTOS = (
    "Very many photos have come from your connection within the hour. Please add the rest in a "
    "few minutes; what we have is safe."
)


@dataclass(frozen=True)
class Refusal:
    """A sentence about something refused, and the id of what it is about."""

    target: str
    text: str


def new_draft_key() -> str:
    """Return a new unguessable key."""
    return secrets.token_urlsafe(KEY_BYTES)


def clean_draft_key(value: str) -> str:
    """Return a key as it came from a form, or a new one when it is none of ours."""
    return value if KEY.fullmatch(value) else new_draft_key()


def take_files(files: Iterable["UploadedFile[bytes]"], draft_key: str) -> list[Refusal]:
    """Keep the files of a form; return a refusal for each that could not be kept."""
    refusals = []
    for file in files:
        try:
            receive_photo(file, label=file.name or "", draft_key=draft_key)
        except RefusedInputError as error:
            refusals.append(Refusal(target="photos", text=str(error)))
    return refusals


def take_descriptions(photos: Iterable[Photo], data: Mapping[str, str]) -> None:
    """Save what the form says each photo shows."""
    photos = list(photos)
    names = {photo.pk: ALT_FIELD.format(photo.pk) for photo in photos}
    describe_photos(
        photos,
        {pk: storable(data[name]).strip() for pk, name in names.items() if name in data},
    )


def upload_context(draft_key: str, refusals: list[Refusal]) -> dict[str, Any]:
    """Return what the upload part of a form needs."""
    return {
        "draft_key": draft_key,
        "draft_photos": list_draft(draft_key),
        "photo_refusals": refusals,
        "accept": ACCEPT,
        "max_photos": MAX_PHOTOS,
        "max_bytes": MAX_BYTES,
        "max_bytes_words": MAX_BYTES_WORDS,
    }


def take_uploads(request: HttpRequest, draft_key: str) -> tuple[list[Refusal], bool]:
    """Keep, describe and remove photos as a form says; the flag tells a photo button was pressed.

    Without JavaScript these buttons send the whole form, which comes back unsent.
    """
    visitor = limits.address_of(request)
    files = request.FILES.getlist("photos")
    taken = [file for file in files if limits.spend(limits.UPLOADS, visitor)]
    refusals = take_files(taken, draft_key)
    if len(taken) < len(files):
        refusals.append(Refusal(target="photos", text=TOO_MANY_PHOTOS))
    take_descriptions(list_draft(draft_key), request.POST)
    photo_id = as_int(request.POST.get("remove"))
    photo = find_draft_photo(draft_key, photo_id) if photo_id else None
    if photo:
        remove_photo(photo)
    return refusals, "remove" in request.POST or request.POST.get("do") == "add"
