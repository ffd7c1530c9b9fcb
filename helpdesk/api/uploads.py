"""Files that come before their report: checked, kept a day, used once."""

from collections.abc import Sequence
from typing import IO, cast

from django.core.files.base import File
from django.db import transaction

from helpdesk.api.errors import INVALID, TOO_LARGE, WRONG_MEDIA_TYPE, Fault, ProblemError
from helpdesk.api.models import ChannelToken, Upload, upload_storage
from helpdesk.api.refs import new_ref
from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.storage import clean_label, delete_files, new_name, purge_strays
from helpdesk.incoming.values import Attachment
from helpdesk.photos.images import HEAD_BYTES, tell_format
from helpdesk.photos.uploads import LimitedUploadHandler, OversizeFile
from helpdesk.printfiles.formats import is_zip, tell_file
from helpdesk.printfiles.limits import LABEL_CHARS, MAX_BYTES, MAX_BYTES_WORDS

ENDING = "bin"
PURGE_BATCH = 500


class UploadHandler(LimitedUploadHandler):
    """Let through files as large as a print file may be."""

    most_bytes = MAX_BYTES
    most_body_bytes = MAX_BYTES + (1 << 20)


def keep_upload(token: ChannelToken, file: "File[bytes]", *, alt_text: str = "") -> Upload:
    """Keep one file for a report to come; raises ProblemError when the desk takes no such file."""
    if isinstance(file, OversizeFile):
        raise ProblemError(TOO_LARGE, f"The file is larger than {MAX_BYTES_WORDS}.")
    label = clean_label(file.name or "", limit=LABEL_CHARS)
    _check(file, label)
    file.seek(0)
    name = upload_storage().save(new_name(ENDING), file)
    try:
        return Upload.objects.create(
            token=token,
            public_id=new_ref(),
            label=label,
            alt_text=alt_text,
            file=name,
            size_bytes=file.size,
            received_at=clock.now(),
        )
    except BaseException:  # whatever happened, no file may stay without its row
        upload_storage().delete(name)
        raise


def open_uploads(token: ChannelToken, ids: Sequence[str]) -> list[Upload]:
    """Return a token's uploads in the order of their ids; raises ProblemError for one not there."""
    known = {
        row.public_id: row
        for row in Upload.objects.select_for_update().filter(
            token=token, public_id__in=ids, received_at__gt=clock.now() - Upload.LIFE
        )
    }
    faults = [
        Fault(f"#/uploads/{number}", "There is no such upload, it was used, or its day is over.")
        for number, name in enumerate(ids)
        if name not in known
    ]
    if faults:
        raise ProblemError(INVALID, "An upload is not there.", faults=faults)
    return [known[name] for name in ids]


def as_attachments(rows: Sequence[Upload]) -> list[Attachment]:
    """Return uploads as whatever a channel brings."""
    return [
        Attachment(label=row.label, file=cast("File[bytes]", row.file), alt_text=row.alt_text)
        for row in rows
    ]


@transaction.atomic
def drop_uploads(rows: Sequence[Upload]) -> None:
    """Forget uploads with their files."""
    delete_files(upload_storage(), [row.file.name for row in rows])
    Upload.objects.filter(pk__in=[row.pk for row in rows]).delete()


def purge_uploads() -> int:
    """Delete uploads nobody used within their day, and files without a row; return how many."""
    old = list(Upload.objects.filter(received_at__lt=clock.now() - Upload.LIFE)[:PURGE_BATCH])
    drop_uploads(old)
    return len(old) + purge_strays(upload_storage(), _find_named)


def _find_named(names: set[str]) -> set[str]:
    return set(Upload.objects.filter(file__in=names).values_list("file", flat=True))


def _check(file: "File[bytes]", label: str) -> None:
    """Refuse at once what no report could keep."""
    if not file.size:
        raise ProblemError(INVALID, "The file is empty.", faults=[Fault("#/file", "It is empty.")])
    file.seek(0)
    head = file.read(HEAD_BYTES)
    if tell_format(head) or is_zip(head):
        return
    try:
        tell_file(cast("IO[bytes]", file), label, file.size)
    except RefusedInputError as error:
        raise ProblemError(WRONG_MEDIA_TYPE, f"The file {error}") from error
