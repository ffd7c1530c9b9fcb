"""Everything that changes the files of a case that are no photos."""

from typing import IO, cast

from django.core.files.base import File
from django.db import transaction

from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.storage import (
    clean_label,
    delete_files,
    delete_now,
    named,
    new_name,
    purge_strays,
    sum_of,
)
from helpdesk.printfiles.formats import Told, tell_file
from helpdesk.printfiles.limits import (
    LABEL_CHARS,
    MAX_BYTES,
    MAX_BYTES_WORDS,
    MAX_CASE_FILES,
    MAX_FILES,
)
from helpdesk.printfiles.models import CaseFile, file_storage


def receive_file(
    file: "File[bytes]", *, label: str, case: Case, from_follow_up: bool = False
) -> CaseFile:
    """Keep a print file, model or settings file that any channel brought for a case.

    The same file twice is the same row. Raises RefusedInputError with a sentence that says what
    to do.
    """
    label = clean_label(label, limit=LABEL_CHARS)
    told = _check_file(file, label)
    sha256 = sum_of(file)
    storage = file_storage()
    file.seek(0)
    name = storage.save(new_name(told.format.lower().replace(".", "")), file)
    try:
        row, is_new = _add_row(
            CaseFile(
                case=case,
                kind=told.kind,
                format=told.format,
                label=label,
                size_bytes=file.size,
                sha256=sha256,
                file=name,
                received_at=clock.now(),
                from_follow_up=from_follow_up,
            )
        )
    except BaseException:  # whatever happened, no file may stay without its row
        storage.delete(name)
        raise
    if not is_new:
        delete_now(storage, [name])
    return row


@transaction.atomic
def remove_file(row: CaseFile) -> None:
    """Remove one file with its bytes."""
    delete_files(file_storage(), [row.file.name])
    row.delete()


@transaction.atomic
def erase_files(case: Case) -> int:
    """Remove every file of a case; return how many."""
    rows = list(case.files.all())
    for row in rows:
        remove_file(row)
    return len(rows)


def purge_stray_files() -> int:
    """Delete old files that no row names, in one of the folders; return how many."""
    return purge_strays(file_storage(), _find_named)


def _find_named(names: set[str]) -> set[str]:
    return set(CaseFile.objects.filter(file__in=names).values_list("file", flat=True))


def _check_file(file: "File[bytes]", label: str) -> Told:
    """Return what a file holds, if the desk takes it."""
    name = named(label)
    if not file.size:
        raise RefusedInputError(f"{name} is empty. Please choose it again or remove it.")
    if file.size > MAX_BYTES:
        raise RefusedInputError(
            f"{name} is larger than {MAX_BYTES_WORDS}. Please send a part of it, or pack it."
        )
    try:
        return tell_file(cast("IO[bytes]", file), label, file.size)
    except RefusedInputError as error:
        raise RefusedInputError(f"{name} {error}") from error


@transaction.atomic
def _add_row(row: CaseFile) -> tuple[CaseFile, bool]:
    """Save a file's row unless the same file is there; refuses one file too many."""
    there = CaseFile.objects.filter(case=row.case)
    known = there.filter(sha256=row.sha256).first()
    if known:
        return known, False
    so_many = there.filter(from_follow_up=row.from_follow_up).count()
    if so_many >= MAX_FILES or there.count() >= MAX_CASE_FILES:
        raise RefusedInputError(
            f"{named(row.label)} is one too many: we take {MAX_FILES} print files and models at a "
            f"time and keep {MAX_CASE_FILES} of one print."
        )
    row.save()
    return row, True
