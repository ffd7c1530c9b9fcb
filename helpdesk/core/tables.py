"""Tables for spreadsheets, written so that no cell is taken for a formula.

A program that opens a table may run a cell that begins with =, +, - or @, or hides such a sign
behind a tab or a line end; CWE-1236 names the risk. Such a cell gets an apostrophe in front, which
spreadsheets show as text. Numbers stay numbers.
"""

import csv
import io
from collections.abc import Iterable, Sequence

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")
BYTE_ORDER_MARK = "\ufeff"  # tells spreadsheets that the table is UTF-8
Cell = str | int | float | None


def safe_cell(value: Cell) -> Cell:
    """Return a cell that is text where it was text."""
    if isinstance(value, str) and value.lstrip(" ").startswith(FORMULA_SIGNS):
        return "'" + value
    return value


def write_table(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Return a table as CSV (RFC 4180) with a header line and CRLF line ends."""
    target = io.StringIO()
    target.write(BYTE_ORDER_MARK)
    writer = csv.writer(target, lineterminator="\r\n")
    writer.writerow([safe_cell(name) for name in header])
    writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    return target.getvalue()
