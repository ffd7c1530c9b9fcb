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

LINE = 1 << 16
_QUOTED_FROM = re.compile(rb">+From ")
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
    return head.startswith(b"From ")


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
    number = 0
    lines: list[bytes] = []
    size = 0
    is_blank = True  # a "From " line begins a letter at the start and after a blank line
    is_line_start = True
    while line := file.readline(LINE):
        begins = is_line_start and is_blank and line.startswith(b"From ")
        if begins and number:
            yield _item(lines, size, f"{label} no. {number}")
        if begins:
            number, lines, size = number + 1, [], 0
        else:
            size += len(line)
            if size <= MAX_BYTES:
                lines.append(_unquoted(line) if is_line_start else line)
            else:
                lines.clear()
        if is_line_start:
            is_blank = not line.strip(b"\r\n")
        is_line_start = line.endswith(b"\n")
    if number:
        yield _item(lines, size, f"{label} no. {number}")


def _unquoted(line: bytes) -> bytes:
    return line[1:] if _QUOTED_FROM.match(line) else line


def _item(lines: list[bytes], size: int, label: str) -> Item:
    """Return a letter without the blank line that ends it in the mbox."""
    if size > MAX_BYTES:
        return Item(label, b"", f"It is larger than {MAX_BYTES_WORDS}.")
    if lines and not lines[-1].strip(b"\r\n"):
        lines = lines[:-1]
    return Item(label, b"".join(lines))
