"""Examples that a library's documentation prints for the two measures of a cut."""

import pytest

from triage.workings.segmentation import pk, window_diff

pytestmark = pytest.mark.source("nltk-segmentation")

ONE, TWO, THREE = "000100000010", "000010000100", "100000010000"


def read(text: str) -> list[bool]:
    return [mark == "1" for mark in text]


@pytest.mark.parametrize(
    ("true", "found", "printed"), [(ONE, ONE, 0.00), (ONE, TWO, 0.30), (TWO, THREE, 0.80)]
)
def test_window_diff_as_printed(true: str, found: str, printed: float) -> None:
    """Window of 3; two digits are printed."""
    assert window_diff(read(true), read(found), window=3) == pytest.approx(printed, abs=0.005)


@pytest.mark.parametrize(
    ("found", "printed"), [("1" * 400, 0.50), ("0" * 400, 0.50), ("0100" * 100, 0.00)]
)
def test_pk_as_printed(found: str, printed: float) -> None:
    """Window of 2, all or no ends found score as badly as chance; two digits are printed."""
    assert pk(read("0100" * 100), read(found), window=2) == pytest.approx(printed, abs=0.005)
