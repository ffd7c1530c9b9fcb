"""One way for every file: photos to the photos, models to the files, packages opened.

Whatever brings a file, the same checks decide. What is not taken is refused in a sentence, and the
rest is kept.
"""

import zipfile
import zlib
from collections.abc import Iterable, Iterator
from tempfile import SpooledTemporaryFile
from typing import IO, cast

from django.core.files.base import File

from helpdesk.cases.models import Case
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.storage import clean_label, named
from helpdesk.incoming.values import Attachment, Kept
from helpdesk.photos.images import HEAD_BYTES, tell_format
from helpdesk.photos.services import receive_photo
from helpdesk.printfiles.formats import ending_of, is_zip, list_members
from helpdesk.printfiles.limits import LABEL_CHARS, MAX_BYTES, MAX_BYTES_WORDS
from helpdesk.printfiles.services import receive_file

IN_MEMORY_BYTES = 1 << 20
CHUNK = 1 << 16
PACKAGE_ENDING = "zip"
# What packing programs of some systems put beside the files, hidden from whoever packs.
HIDDEN = ("__MACOSX/", ".DS_Store", "Thumbs.db", "desktop.ini")


def keep_attachments(
    case: Case,
    attachments: Iterable[Attachment],
    *,
    keeps_originals: bool = False,
    from_follow_up: bool = False,
) -> Kept:
    """Keep files for a case; a file that is refused does not cost the others."""
    kept = Kept()
    for attachment in attachments:
        for part in _open_package(attachment):
            if isinstance(part, str):
                kept += Kept(refusals=(part,))
                continue
            kept += _keep_one(case, part, keeps_originals, from_follow_up)
            if part is not attachment:
                part.file.close()
    return kept


def _keep_one(
    case: Case, attachment: Attachment, keeps_originals: bool, from_follow_up: bool
) -> Kept:
    """Keep one file where it belongs."""
    file = attachment.file
    file.seek(0)
    is_photo = bool(tell_format(file.read(HEAD_BYTES)))
    try:
        if is_photo:
            receive_photo(
                file,
                label=attachment.label,
                case=case,
                alt_text=attachment.alt_text,
                keeps_original=keeps_originals,
                from_follow_up=from_follow_up,
            )
            return Kept(photos=1)
        receive_file(file, label=attachment.label, case=case, from_follow_up=from_follow_up)
    except RefusedInputError as error:
        return Kept(refusals=(str(error),))
    return Kept(files=1)


def _open_package(attachment: Attachment) -> Iterator[Attachment | str]:
    """Yield the file itself, or what is in it when it is a package, or why that cannot be opened.

    A package inside a package is not opened: it is refused like any file that is not taken.
    """
    file = attachment.file
    file.seek(0)
    if ending_of(attachment.label) != PACKAGE_ENDING or not is_zip(file.read(HEAD_BYTES)):
        yield attachment
        return
    label = named(clean_label(attachment.label, limit=LABEL_CHARS))
    if file.size > MAX_BYTES:
        yield f"{label} is larger than {MAX_BYTES_WORDS}. Please send its files one by one."
        return
    try:
        members = list_members(cast("IO[bytes]", file))
    except RefusedInputError as error:
        yield f"{label} {error}"
        return
    with zipfile.ZipFile(cast("IO[bytes]", file)) as package:
        for info in members:
            if any(mark in info.filename for mark in HIDDEN):
                continue
            yield _unpack(package, info, label)


def _unpack(package: zipfile.ZipFile, info: zipfile.ZipInfo, label: str) -> Attachment | str:
    """Return one file of a package, unpacked to no more than it declared."""
    inner = named(clean_label(info.filename, limit=LABEL_CHARS))
    if info.file_size > MAX_BYTES:
        return f"{inner} in {label} is larger than {MAX_BYTES_WORDS}."
    target = SpooledTemporaryFile(max_size=IN_MEMORY_BYTES)  # noqa: SIM115 - closed once it is kept
    if not _copy(package, info, target):
        target.close()
        return f"{inner} in {label} is damaged."
    file = File(target, name=info.filename)
    file.size = info.file_size
    return Attachment(label=info.filename, file=file)


def _copy(package: zipfile.ZipFile, info: zipfile.ZipInfo, target: IO[bytes]) -> bool:
    """Copy a member's bytes; False when it is damaged or not as long as it says."""
    left = info.file_size
    try:
        with package.open(info) as source:
            while chunk := source.read(min(CHUNK, left + 1)):
                left -= len(chunk)
                if left < 0:
                    return False
                target.write(chunk)
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, NotImplementedError, RuntimeError):
        return False
    return left == 0
