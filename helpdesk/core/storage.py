"""Files beside the database: names that tell nothing, deletion after the commit, strays.

A file is written before its row and deleted after its row is gone, so a killed process leaves at
most a file that no row names; a regular round removes those.
"""

import datetime
import hashlib
import re
import unicodedata
import uuid
from collections.abc import Callable, Iterable
from functools import partial

from django.core.files.base import File
from django.core.files.storage import Storage
from django.db import transaction

from helpdesk.core import clock

STRAY_AFTER = datetime.timedelta(hours=24)
FOLDERS = 256  # the first two letters of a name, in hexadecimal
ROUND_S = 600  # rounds come every ten minutes
SPOKEN_CHARS = 60
UNNAMED = "file"
# Control characters, and the marks that make a name read backwards (Unicode UAX 9).
_UNSAFE = re.compile(r"[\x00-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]+")


def new_name(ending: str) -> str:
    """Return a storage name that tells nothing: two letters of folder, then random ones."""
    name = uuid.uuid4().hex
    return f"{name[:2]}/{name}.{ending}"


def sum_of(file: "File[bytes]") -> str:
    """Return the SHA-256 of a file in hexadecimal, without holding it in memory."""
    file.seek(0)
    total = hashlib.sha256()
    for chunk in file.chunks():
        total.update(chunk)
    return total.hexdigest()


def clean_label(name: str, *, limit: int, unnamed: str = UNNAMED) -> str:
    """Return a file's name as a label: its last part, in one line, without hidden marks."""
    last = re.split(r"[/\\]", _UNSAFE.sub("", unicodedata.normalize("NFC", name)))[-1].strip()
    if len(last) > limit:
        last = last[: limit - 1] + "…"
    return last or unnamed


def named(label: str) -> str:
    """Return a label in quotation marks, short enough to stand in a sentence."""
    return f"“{label if len(label) <= SPOKEN_CHARS else label[: SPOKEN_CHARS - 1] + '…'}”"


def delete_files(storage: Storage, names: Iterable[str | None]) -> None:
    """Delete files once the rows that named them are gone for certain."""
    there = [name for name in names if name]
    if there:
        transaction.on_commit(partial(delete_now, storage, there))


def delete_now(storage: Storage, names: Iterable[str]) -> None:
    """Delete files; one that is gone already is no fault."""
    for name in names:
        storage.delete(name)


def purge_strays(storage: Storage, find_named: Callable[[set[str]], set[str]]) -> int:
    """Delete old files that no row names, in one of the folders; return how many.

    `find_named` returns those of the given names that a row names. Each round looks at the next
    folder, so a round costs the same however many files there are, and all have their turn within
    two days.
    """
    now = clock.now()
    folder = f"{int(now.timestamp() // ROUND_S) % FOLDERS:02x}"
    if not storage.exists(folder):
        return 0
    names = {f"{folder}/{file}" for file in storage.listdir(folder)[1]}
    names -= find_named(names)
    stray = [name for name in names if storage.get_modified_time(name) < now - STRAY_AFTER]
    delete_now(storage, stray)
    return len(stray)
