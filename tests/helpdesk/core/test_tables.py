"""No cell of a table the desk writes is a formula."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpdesk.core.tables import BYTE_ORDER_MARK, FORMULA_SIGNS, safe_cell, write_table

TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"))


@pytest.mark.parametrize(
    "cell", ["=1+1", "+49 30", "-2", "@SUM(A1)", "\t=1", "\r=1", "  =HYPERLINK(1)", "|x", "%0A=1"]
)
def test_safe_cell_keeps_a_formula_as_text(cell):
    """The sign a spreadsheet would act on no longer stands first."""
    assert safe_cell(cell) == "'" + cell


@pytest.mark.parametrize("cell", ["rook", "3 mm", "", 4, -4.5, None])
def test_safe_cell_leaves_words_and_numbers(cell):
    """A negative number is a number."""
    assert safe_cell(cell) == cell


@given(st.lists(st.lists(TEXT, min_size=2, max_size=2), max_size=5))
def test_write_table_can_be_read_back_and_holds_no_formula(rows):
    """Whatever was typed comes back, at most with an apostrophe in front."""
    text = write_table(["a", "b"], rows)

    found = list(csv.reader(io.StringIO(text.removeprefix(BYTE_ORDER_MARK), newline="")))[1:]
    assert [[cell.removeprefix("'") for cell in row] for row in found] == [
        [cell.removeprefix("'") for cell in row] for row in rows
    ]
    assert not any(cell.lstrip(" ").startswith(FORMULA_SIGNS) for row in found for cell in row)
