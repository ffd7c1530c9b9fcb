"""Read a table from a text file: encoding, delimiter, header and rows, one row at a time.

Nothing is repaired silently. What is not sure of the whole file stands in `Layout.remarks`; what is
wrong with one row comes in its place as a row with a reason, and the rows after it are read on.
"""

import codecs
import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import IO

from helpdesk.core.errors import RefusedInputError
from helpdesk.core.http import storable

CHUNK = 1 << 20
SAMPLE_ROWS = 60
MOST_COLUMNS = 200
MOST_ROWS = 1_000_000
LINE_CHARS = 16_000_000  # one line of the file; more is no table
CELL_CHARS = 131_072  # the csv module's own limit of a cell
UTF8, FALLBACK = "utf-8", "cp1252"
ENCODINGS = {
    UTF8: "UTF-8",
    "utf-16": "UTF-16",
    FALLBACK: "Windows-1252 (western European)",
}
DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "upright stroke"}
PACKED = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")  # what workbooks of spreadsheet programs begin with
NOT_UTF8 = (
    "The file is not UTF-8, so it was read as Windows-1252. Please look whether accents and "
    "umlauts are right before you go on; if not, save it as UTF-8 and choose it again."
)
REPEATED = "Some columns have the same header; they are numbered from the second one on."
_SPACE = re.compile(r"\s+")


@dataclass(frozen=True)
class Layout:
    """How a file is read: its encoding, what parts its cells, the header, and what is not sure."""

    encoding: str
    delimiter: str
    header: Sequence[str]
    remarks: Sequence[str] = ()


@dataclass(frozen=True)
class SheetRow:
    """One row: its place from 1, the line it ends on, its cells, or why it could not be read."""

    number: int
    line: int
    cells: Sequence[str]
    trouble: str = ""
    remark: str = ""


def read_layout(file: IO[bytes], *, encoding: str = "", delimiter: str = "") -> Layout:
    """Return how a file is read; what is given is taken, the rest found out.

    Raises RefusedInputError, with a sentence, for what is no table.
    """
    chosen = encoding or _find_encoding(file)
    remarks = [NOT_UTF8] if not encoding and chosen == FALLBACK else []
    delimiter = delimiter or _find_delimiter(file, chosen)
    header = next(iter(_filled(_records(file, chosen, delimiter))), None)
    if header is None:
        raise RefusedInputError("The file is empty. Please choose the table again.")
    if header.trouble:
        raise RefusedInputError(f"The first line cannot be read. {header.trouble}")
    if len(header.cells) > MOST_COLUMNS:
        raise RefusedInputError(
            f"The table has {len(header.cells):,} columns; up to {MOST_COLUMNS} can be read. "
            "Please leave out what no report needs."
        )
    names = _name_columns(header.cells)
    if len({_key(cell) for cell in header.cells if cell.strip()}) < sum(
        bool(cell.strip()) for cell in header.cells
    ):
        remarks.append(REPEATED)
    return Layout(chosen, delimiter, names, tuple(remarks))


def read_rows(file: IO[bytes], layout: Layout) -> Iterator[SheetRow]:
    """Yield the rows below the header that are not empty, in order.

    A row with more cells than the header has is in trouble; one with fewer has empty ones at its
    end, and says so.
    """
    width = len(layout.header)
    records = _filled(_records(file, layout.encoding, layout.delimiter))
    for number, record in enumerate(islice(records, 1, None), start=1):
        if number > MOST_ROWS:
            yield SheetRow(number, record.line, (), f"More than {MOST_ROWS:,} rows are not read.")
            return
        yield _fit(number, record, width)


def _fit(number: int, record: SheetRow, width: int) -> SheetRow:
    """Return a row with as many cells as the header, or in trouble."""
    cells, trouble, remark = list(record.cells), record.trouble, ""
    extra = [cell for cell in cells[width:] if cell]
    if extra and not trouble:
        trouble = f"The row has {len(cells)} cells where the header has {width}."
    elif len(cells) < width and not trouble:
        remark = f"The row has {len(cells)} cells; the other {width - len(cells)} count as empty."
    if not trouble and any("\x00" in cell for cell in cells):
        trouble = "A cell holds a NUL character, which no text has."
    if not trouble:
        cells = [storable(cell) for cell in cells[:width]] + [""] * (width - len(cells))
    return SheetRow(number, record.line, cells, trouble, remark)


def _records(file: IO[bytes], encoding: str, delimiter: str) -> Iterator[SheetRow]:
    """Yield what the csv module reads, with its errors as rows in trouble."""
    file.seek(0)
    name = "utf-8-sig" if encoding == UTF8 else encoding
    text = io.TextIOWrapper(io.BufferedReader(_Lent(file)), encoding=name, newline="")
    # Strict, or a quotation mark that is never closed would swallow the rest without a word.
    reader = csv.reader(_lines(text), delimiter=delimiter, strict=True)
    while True:
        before = reader.line_num
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            yield SheetRow(0, reader.line_num, (), _say(error, before + 1, reader.line_num))
        except UnicodeError:
            raise RefusedInputError(
                f"The file is not {ENCODINGS.get(encoding, encoding)} throughout: line "
                f"{reader.line_num + 1:,} cannot be read. Please save it as UTF-8."
            ) from None
        else:
            yield SheetRow(0, reader.line_num, cells)


def _say(error: csv.Error, first: int, last: int) -> str:
    """Return what is wrong with the lines of a row, in words."""
    where = f"Line {first:,}" if first >= last else f"Lines {first:,} to {last:,}"
    known: Mapping[str, str] = {
        "field larger": f"hold a cell of more than {CELL_CHARS:,} characters, "
        "perhaps because a quotation mark is never closed",
        "unexpected end": "hold a quotation mark that is never closed",
        "expected after": "hold a quotation mark in the middle of a quoted cell",
    }
    why = next((words for mark, words in known.items() if mark in str(error)), "cannot be read")
    if first >= last:
        why = why.replace("hold ", "holds ", 1)
    return f"{where} {why}."


def _lines(text: IO[str]) -> Iterator[str]:
    """Yield lines with their ends; one that is endless is refused instead of filling the memory."""
    while line := text.readline(LINE_CHARS):
        if len(line) >= LINE_CHARS:
            raise RefusedInputError(
                f"A line has more than {LINE_CHARS:,} characters. This is no table."
            )
        yield line


def _filled(records: Iterable[SheetRow]) -> Iterator[SheetRow]:
    """Yield the rows that hold anything."""
    return (row for row in records if row.trouble or any(cell.strip() for cell in row.cells))


def _find_encoding(file: IO[bytes]) -> str:
    """Return the encoding of a file: by its mark, else UTF-8 where that fits, else the fallback."""
    file.seek(0)
    head = file.read(4096)
    if head.startswith(PACKED):
        raise RefusedInputError(
            "This is a workbook of a spreadsheet program. Please save its sheet as CSV (UTF-8)."
        )
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if b"\x00" in head:
        raise RefusedInputError(
            "The file is no text, or text in UTF-16 without its mark. Please save it as UTF-8."
        )
    return UTF8 if _is_all(file, UTF8) else FALLBACK


def _is_all(file: IO[bytes], encoding: str) -> bool:
    """Return whether every byte of a file fits an encoding."""
    decoder = codecs.getincrementaldecoder(encoding)()
    file.seek(0)
    try:
        while chunk := file.read(CHUNK):
            decoder.decode(chunk)
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _find_delimiter(file: IO[bytes], encoding: str) -> str:
    """Return what parts the cells: that by which most first rows agree with the header's width."""
    scores = {}
    for place, delimiter in enumerate(DELIMITERS):
        rows = [
            len(row.cells)
            for row in islice(_filled(_records(file, encoding, delimiter)), SAMPLE_ROWS)
            if not row.trouble
        ]
        width = rows[0] if rows else 0
        alike = sum(count == width for count in rows) / len(rows) if rows else 0.0
        scores[delimiter] = (alike, width, -place) if width > 1 else (0.0, width, -place)
    return max(scores, key=lambda delimiter: scores[delimiter])


def _name_columns(cells: Sequence[str]) -> tuple[str, ...]:
    """Return a name for each column: its header, numbered where it repeats, or its place."""
    names: list[str] = []
    taken: dict[str, int] = {}
    for place, cell in enumerate(cells, start=1):
        name = _SPACE.sub(" ", storable(cell)).strip()[:80] or f"Column {place}"
        taken[_key(name)] = count = taken.get(_key(name), 0) + 1
        names.append(name if count == 1 else f"{name} ({count})")
    return tuple(names)


def _key(name: str) -> str:
    return _SPACE.sub(" ", name).strip().casefold()


class _Lent(io.RawIOBase):
    """A file that stays open when its reader goes."""

    def __init__(self, file: IO[bytes]) -> None:
        self.file = file

    def readable(self) -> bool:
        """Return True."""
        return True

    def read(self, size: int = -1) -> bytes:
        """Return the next bytes."""
        return self.file.read(size)

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        """Fill a buffer with the next bytes."""
        data = self.file.read(len(buffer))
        buffer[: len(data)] = data
        return len(data)
