"""The key of an unsent form, under which its photos wait."""

import re
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.core.files.uploadedfile import UploadedFile

from helpdesk.core.errors import RefusedInputError
from helpdesk.core.http import storable
from helpdesk.photos.models import Photo
from helpdesk.photos.services import describe_photos, receive_photo

KEY = re.compile(r"[A-Za-z0-9_-]{20,40}")
KEY_BYTES = 18  # 144 bits: whoever has the key can see the form's photos
ALT_FIELD = "alt-{}"
SEEN_FIELD = "seen-"  # and the id of a finding


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
