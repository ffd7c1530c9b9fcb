"""Measures of a cut: limits, refusals, agreement with a plain count and with a library."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from nltk.metrics.segmentation import pk as nltk_pk
from nltk.metrics.segmentation import windowdiff as nltk_window_diff

from triage.errors import InputError, OutOfRangeError
from triage.workings.segmentation import (
    count_near,
    half_mean_length,
    mark_gaps,
    pk,
    window_diff,
)

cuts = st.integers(2, 60).flatmap(
    lambda size: st.tuples(
        st.lists(st.booleans(), min_size=size, max_size=size),
        st.lists(st.booleans(), min_size=size, max_size=size),
        st.integers(1, size),
    )
)


def as_text(gaps: list[bool]) -> str:
    return "".join("1" if gap else "0" for gap in gaps)


@given(cuts)
def test_measures_agree_with_a_library(cut: tuple[list[bool], list[bool], int]) -> None:
    """NLTK counts each window anew; the values are the same."""
    true, found, window = cut

    assert pk(true, found, window=window) == pytest.approx(
        nltk_pk(as_text(true), as_text(found), k=window)
    )
    assert window_diff(true, found, window=window) == pytest.approx(
        nltk_window_diff(as_text(true), as_text(found), k=window)
    )


@given(cuts)
def test_a_perfect_cut_costs_nothing(cut: tuple[list[bool], list[bool], int]) -> None:
    true, _, window = cut

    assert pk(true, list(true), window=window) == 0.0
    assert window_diff(true, list(true)) == 0.0


@given(cuts)
def test_window_diff_is_never_below_pk(cut: tuple[list[bool], list[bool], int]) -> None:
    """A window whose same-segment answer is wrong holds another number of ends, too."""
    true, found, window = cut

    assert window_diff(true, found, window=window) >= pk(true, found, window=window)


def test_window_is_half_the_mean_length() -> None:
    """Ten units in two segments: half of five, rounded to even."""
    assert half_mean_length([False] * 4 + [True] + [False] * 4) == 2
    assert half_mean_length([True]) == 1


def test_measures_refuse_what_cannot_be_compared() -> None:
    with pytest.raises(InputError, match="3 and 2 gaps"):
        pk([True, False, True], [True, False])
    with pytest.raises(InputError, match="0 and 0 gaps"):
        window_diff([], [])
    with pytest.raises(OutOfRangeError, match="window of 3 must lie in 1 to 2"):
        pk([True, False], [True, False], window=3)


def test_gaps_of_a_cut_in_seconds() -> None:
    """Four units: starts at 0 and past the end count nothing."""
    assert mark_gaps([0.0, 1.2, 3.0, 9.0], end_s=4.0) == [True, False, True]
    with pytest.raises(OutOfRangeError, match="must be above 0"):
        mark_gaps([], end_s=0.0)


def test_each_found_time_serves_one_true_time() -> None:
    assert count_near([10.0, 12.0], [11.0], within_s=5.0) == 1
    assert count_near([10.0, 20.0], [14.0, 16.0], within_s=5.0) == 2
    assert count_near([10.0], [], within_s=5.0) == 0
    assert count_near([100.0], [1.0, 99.0], within_s=5.0) == 1


@given(
    st.lists(st.integers(0, 40), max_size=6).map(sorted),
    st.lists(st.integers(0, 40), max_size=6).map(sorted),
)
def test_no_other_pairing_serves_more(true: list[int], found: list[int]) -> None:
    """Against a search of all pairings."""

    def most(at: int, free: tuple[int, ...]) -> int:
        if at == len(true):
            return 0
        best = most(at + 1, free)
        for place, time in enumerate(free):
            if abs(time - true[at]) <= 5:
                best = max(best, 1 + most(at + 1, free[:place] + free[place + 1 :]))
        return best

    assert count_near(true, found, within_s=5) == most(0, tuple(found))
