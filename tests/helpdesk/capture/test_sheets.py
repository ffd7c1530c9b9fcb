"""Tables are read as RFC 4180 has them, and what is wrong with one is said in words."""

import contextlib
import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpdesk.capture.sheets import (
    MOST_COLUMNS,
    NOT_UTF8,
    REPEATED,
    SheetRow,
    read_layout,
    read_rows,
)
from helpdesk.core.errors import RefusedInputError

# Cells without what a file cannot hold or the reader takes for line ends of its own.
CELLS = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n\t"), max_size=12
)


def rows_of(data: bytes, **chosen: str) -> list[SheetRow]:
    """Return the rows of a file's bytes."""
    file = io.BytesIO(data)
    return list(read_rows(file, read_layout(file, **chosen)))


@pytest.mark.parametrize(
    ("encoding", "mark", "name"),
    [
        ("utf-8", b"", "utf-8"),
        ("utf-8", b"\xef\xbb\xbf", "utf-8"),  # Unicode 16.0 section 23.8, byte order marks
        ("utf-16-le", b"\xff\xfe", "utf-16"),
        ("utf-16-be", b"\xfe\xff", "utf-16"),
        ("cp1252", b"", "cp1252"),
    ],
)
def test_encoding_is_found(encoding: str, mark: bytes, name: str) -> None:
    data = mark + "name,words\r\nJörg,“Übergang” löst sich\r\n".encode(encoding)
    layout = read_layout(io.BytesIO(data))

    assert layout.encoding == name
    assert layout.header == ("name", "words")
    assert rows_of(data)[0].cells == ["Jörg", "“Übergang” löst sich"]
    assert (NOT_UTF8 in layout.remarks) is (name == "cp1252")


@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
def test_delimiter_is_found_though_others_stand_in_the_words(sign: str) -> None:
    others = "a, b; c | d".replace(sign, "")
    data = f"id{sign}words\n" + f"1{sign}{others}\n" * 5

    layout = read_layout(io.BytesIO(data.encode()))

    assert layout.delimiter == sign
    assert rows_of(data.encode())[0].cells == ["1", others]


def test_quoted_cells_hold_line_ends_delimiters_and_quotes() -> None:
    """RFC 4180 section 2, rules 6 and 7."""
    (row,) = rows_of(b'id,words\r\n1,"a ""b"", c\r\nd"\r\n')

    assert row.cells == ["1", 'a "b", c\r\nd']
    assert row.line == 3


@given(st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=1, max_size=6))
@settings(max_examples=60)
def test_whatever_the_csv_module_writes_comes_back(table: list[list[str]]) -> None:
    target = io.StringIO()
    writer = csv.writer(target)
    writer.writerow(["a", "b", "c"])
    writer.writerows(table)

    rows = rows_of(target.getvalue().encode(), encoding="utf-8", delimiter=",")

    assert [row.cells for row in rows] == [row for row in table if any(c.strip() for c in row)]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\n\r\n \n", "empty"),
        (b"PK\x03\x04rest", "workbook"),
        (b"n\x00a\x00,\x00", "UTF-16 without its mark"),
        (b"a,b\n\x81\x8d\n", "not Windows-1252"),
        (b",".join(b"c%d" % n for n in range(2000)), "2,000 columns"),
        (b'"a,b\n1,2\n', "never closed"),
    ],
)
def test_what_is_no_table_is_refused_in_words(data: bytes, words: str) -> None:
    with pytest.raises(RefusedInputError, match=words):
        rows_of(data)


def test_only_a_header_has_no_rows() -> None:
    assert rows_of(b"a,b\n") == []


def test_most_columns_are_read() -> None:
    assert len(read_layout(io.BytesIO(b",".join([b"c"] * MOST_COLUMNS))).header) == MOST_COLUMNS


def test_same_and_empty_headers_are_told_apart() -> None:
    layout = read_layout(io.BytesIO(b"Words,words, ,WORDS\n1,2,3,4\n"))

    assert layout.header == ("Words", "words (2)", "Column 3", "WORDS (3)")
    assert REPEATED in layout.remarks


def test_ragged_rows_are_said_and_the_rest_is_read() -> None:
    long, short, good = rows_of(b"a,b\n1,2,3\n1\n1,2\n")

    assert "3 cells where the header has 2" in long.trouble
    assert (short.cells, short.trouble) == (["1", ""], "")
    assert "count as empty" in short.remark
    assert good.cells == ["1", "2"]


def test_quote_never_closed_costs_no_row_in_silence() -> None:
    good, bad = rows_of(b'a,b\n1,2\n3,"open\n4,5\n6,7\n', delimiter=",")

    assert good.cells == ["1", "2"]
    assert bad.trouble == "Lines 3 to 5 hold a quotation mark that is never closed."


def test_quote_inside_a_quoted_cell_costs_its_row_only() -> None:
    bad, good = rows_of(b'a,b\n"x"y,2\n4,5\n', delimiter=",")

    assert bad.trouble == "Line 2 holds a quotation mark in the middle of a quoted cell."
    assert good.cells == ["4", "5"]


def test_cell_of_ten_megabytes_costs_its_row_only() -> None:
    bad, good = rows_of(b"a,b\n1," + b"x" * 10_000_000 + b"\n4,5\n")

    assert "more than 131,072 characters" in bad.trouble
    assert good.cells == ["4", "5"]


def test_nul_costs_its_row_only() -> None:
    rows = rows_of(b"a,b\n" + b"1,2\n" * 2000 + b"3,\x00\n4,5\n")

    assert "NUL" in rows[-2].trouble
    assert rows[-1].cells == ["4", "5"]


@given(st.binary(max_size=300))
@settings(max_examples=150)
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    with contextlib.suppress(RefusedInputError):
        assert all(row.trouble or row.cells for row in rows_of(data))
