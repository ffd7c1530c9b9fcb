"""Letters out of files and folders, one at a time: .eml files, mbox files, maildirs.

A folder of any size is read with one letter in memory. An mbox is split at its "From " lines
(RFC 4155), and one ">" is taken off quoted ones, as the mboxrd variant writes them.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from helpdesk.mailroom.limits import MAX_BYTES, MAX_BYTES_WORDS

CHUNK = 1 << 20
FROM = b"From "
LONGEST_MARK = 16  # bytes of the line ends and the word that begin a letter
_NEXT_FROM = re.compile(rb"\n\r?\nFrom ")
_QUOTED_FROM = re.compile(rb"^>(>*From )", re.M)
_EML_ENDINGS = frozenset({".eml", ".msg", ".txt", ".mbox", ".mbx", ""})


@dataclass(frozen=True)
class Item:
    """One letter of a source; `raw` is empty and `refusal` says why where it cannot be read."""

    label: str
    raw: bytes
    refusal: str = ""


def list_letters(path: Path) -> Iterator[Item]:
    """Yield the letters of a file or folder, in a fixed order.

    Raises FileNotFoundError when there is no such place, and ValueError for a folder that holds
    nothing of the kind.
    """
    if path.is_dir():
        return _from_folder(path)
    if not path.exists():
        raise FileNotFoundError(path)
    return _from_file(path, path.name)


def _from_folder(folder: Path) -> Iterator[Item]:
    """Yield the letters of a maildir (cur, then new), or of every file in a plain folder."""
    parts = [folder / "cur", folder / "new"]
    if any(part.is_dir() for part in parts):
        for part in parts:
            for path in _files_in(part):
                yield _whole(path, f"{part.name}/{path.name}")
        return
    files = [path for path in _files_in(folder) if path.suffix.lower() in _EML_ENDINGS]
    if not files:
        raise ValueError("It holds no letters: no cur or new folder and no .eml file.")
    for path in files:
        yield from _from_file(path, path.name)


def _files_in(folder: Path) -> list[Path]:
    if not folder.is_dir():
        return []
    return sorted(path for path in folder.iterdir() if path.is_file() and path.name[:1] != ".")


def _from_file(path: Path, label: str) -> Iterator[Item]:
    """Yield the letters of an mbox, or the one letter of a file."""
    try:
        with path.open("rb") as file:
            if not is_mbox(file.read(5)):
                yield _whole(path, label)
                return
            file.seek(0)
            yield from split_mbox(file, label)
    except OSError as error:
        yield Item(label, b"", f"It cannot be read: {error.strerror or error}.")


def is_mbox(head: bytes) -> bool:
    """Return True when a file begins like an mbox."""
    return head.startswith(FROM)


def _whole(path: Path, label: str) -> Item:
    """Return the one letter of a file."""
    try:
        if path.stat().st_size > MAX_BYTES:
            return Item(label, b"", f"It is larger than {MAX_BYTES_WORDS}.")
        return Item(label, path.read_bytes())
    except OSError as error:
        return Item(label, b"", f"It cannot be read: {error.strerror or error}.")


def split_mbox(file: IO[bytes], label: str) -> Iterator[Item]:
    """Yield the letters of an mbox; a letter above the limit is passed over, not held."""
    held = bytearray(file.read(CHUNK))
    number, scanned, is_over, is_end = 0, 0, False, False
    while held:
        found = _NEXT_FROM.search(held, scanned)
        if found is None and not is_end:
            if is_over or len(held) > MAX_BYTES + CHUNK:
                is_over = True
                del held[:-LONGEST_MARK]  # the mark may begin within these
            scanned = max(0, len(held) - LONGEST_MARK)
            chunk = file.read(CHUNK)
            is_end = not chunk
            held += chunk
            continue
        number += 1
        # The blank line before the mark belongs to the mbox.
        letter = bytes(held[: found.start() + 1] if found else held)
        del held[: found.end() - len(FROM) if found else len(held)]
        scanned = 0
        yield _item(b"" if is_over else letter, is_over, bool(found), f"{label} no. {number}")
        is_over = False


def _item(held: bytes, is_over: bool, has_more: bool, label: str) -> Item:
    """Return a letter without its "From " line and, at the end of the mbox, its blank line."""
    raw = held.partition(b"\n")[2]
    if is_over or len(raw) > MAX_BYTES:
        return Item(label, b"", f"It is larger than {MAX_BYTES_WORDS}.")
    if not has_more and raw.endswith((b"\n\n", b"\n\r\n")):
        raw = raw.removesuffix(b"\n").removesuffix(b"\r")
    return Item(label, _QUOTED_FROM.sub(rb"\1", raw) if b">From " in raw else raw)
