"""Which parts of a letter are files for the case, and which are left with the letter."""

import io
from collections.abc import Sequence
from dataclasses import dataclass, field

from PIL import Image, UnidentifiedImageError

from helpdesk.core.storage import clean_label, named
from helpdesk.mailroom.limits import LOGO_BYTES, LOGO_PX, MAX_FILES, PIXEL_PX
from helpdesk.mailroom.parts import Part

LABEL_CHARS = 120
HEADER_BYTES = 65_536  # the size of a picture stands within these
ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "image/webp": "webp", "image/heic": "heic"}
# Kinds that go with a letter and are no report: signatures, invitations, cards, receipts.
LEFT = {
    "application/pgp-signature": "a signature",
    "application/pkcs7-signature": "a signature",
    "application/x-pkcs7-signature": "a signature",
    "application/pgp-keys": "a key",
    "text/calendar": "an invitation",
    "text/vcard": "a visiting card",
    "text/x-vcard": "a visiting card",
    "text/directory": "a visiting card",
    "message/delivery-status": "a delivery report",
    "message/disposition-notification": "a receipt",
    "message/feedback-report": "a complaint report",
    "text/rfc822-headers": "the header of another letter",
}
NEVER_FOLLOWED = {
    "message/partial": "A piece of a letter sent in pieces (RFC 2046 section 5.2.2)",
    "message/external-body": "A pointer to a file elsewhere (RFC 2046 section 5.2.3)",
}
TNEF = frozenset({"application/ms-tnef", "application/vnd.ms-tnef"})
TNEF_LABEL = "winmail.dat"


@dataclass(frozen=True)
class LetterFile:
    """One file of a letter, with its bytes decoded when they are asked for."""

    label: str
    part: Part = field(repr=False)

    def read(self) -> bytes:
        """Return the file's bytes."""
        return self.part.decode()


@dataclass(frozen=True)
class Sorted:
    """The files for the case, and a sentence for each part that stays with the letter."""

    files: tuple[LetterFile, ...]
    notes: tuple[str, ...]


def sort_files(parts: Sequence[Part]) -> Sorted:
    """Return the files among a letter's parts; logos and tracking pixels stay behind."""
    files: list[LetterFile] = []
    notes: list[str] = []
    for part in parts:
        label = _label_of(part, len(files) + 1)
        why = _why_left(part, label)
        if why:
            notes.append(why)
        elif len(files) >= MAX_FILES:
            notes.append(f"It has more than {MAX_FILES} files; the rest stays with the letter.")
            break
        else:
            files.append(LetterFile(label, part))
    return _without_logos(files, notes)


def _why_left(part: Part, label: str) -> str:
    """Return why a part is no file for the case, or ""."""
    if part.kind in NEVER_FOLLOWED:
        return f"{NEVER_FOLLOWED[part.kind]} was left with the letter."
    if part.kind in LEFT:
        return f"{named(label)} is {LEFT[part.kind]} and stays with the letter."
    if part.kind in TNEF or label.lower() == TNEF_LABEL:
        return (
            f"{named(label)} is a package only one family of mail programs opens; it stays with "
            "the letter. Files may be in it: ask for them again."
        )
    if not part.is_decodable:
        return f"{named(label)} is encoded in a way no standard names; it stays with the letter."
    return ""


def _label_of(part: Part, number: int) -> str:
    """Return a file's name, or one made of its number and kind."""
    ending = ENDINGS.get(part.kind, "jpg" if part.kind.startswith("image/") else "dat")
    if part.kind in {"message/rfc822", "message/global"}:
        ending = "eml"
    return clean_label(
        part.fields.file_name, limit=LABEL_CHARS, unnamed=f"attachment-{number}.{ending}"
    )


def _without_logos(files: Sequence[LetterFile], notes: list[str]) -> Sorted:
    """Leave small inline pictures behind, unless the letter has no other picture."""
    sizes = {n: _picture_size(each) for n, each in enumerate(files) if _is_picture(each.part)}
    small = {n for n, size in sizes.items() if _is_inline(files[n].part) and _is_small(*size)}
    if len(sizes) == 1:  # the only one may be the photo, if it can be one at all
        small = {n for n in small if 0 < sizes[n][1] <= PIXEL_PX}
    for n in sorted(small):
        label = named(files[n].label)
        notes.append(f"{label} is a small picture of the layout and stays with the letter.")
    kept = tuple(each for n, each in enumerate(files) if n not in small)
    return Sorted(kept, tuple(notes))


def _is_picture(part: Part) -> bool:
    return part.kind.startswith("image/")


def _is_inline(part: Part) -> bool:
    """Return True for a picture that the text shows, not one that was attached by hand."""
    has_id = bool(part.fields.get("content-id"))
    return part.fields.disposition == "inline" or (
        has_id and part.fields.disposition != "attachment"
    )


def _is_small(size_bytes: int, side_px: int) -> bool:
    return size_bytes < LOGO_BYTES or 0 < side_px < LOGO_PX


def _picture_size(file: LetterFile) -> tuple[int, int]:
    """Return a picture's bytes and its shorter side in pixels, 0 where that cannot be told."""
    data = file.read()
    try:
        with Image.open(io.BytesIO(data[:HEADER_BYTES])) as picture:
            return len(data), min(picture.size)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, TypeError, KeyError):
        return len(data), 0
