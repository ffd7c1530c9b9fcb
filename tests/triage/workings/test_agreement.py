"""Kappas: laws and refusals."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.errors import InputError, OutOfRangeError
from triage.workings.agreement import (
    cohen_kappa,
    count_ratings,
    fleiss_kappa,
    free_marginal_kappa,
)

PAIRS = st.lists(st.tuples(st.sampled_from("abcd"), st.sampled_from("abcd")), min_size=1)


@given(pairs=PAIRS)
def test_cohen_kappa_does_not_mind_who_is_first(pairs: list[tuple[str, str]]) -> None:
    """Swapping the raters changes nothing, and the kappa is at most 1."""
    first, second = [one for one, _ in pairs], [other for _, other in pairs]

    found = cohen_kappa(first, second)

    assert found == cohen_kappa(second, first)
    assert found.kappa is None or found.kappa <= 1.0


@given(pairs=PAIRS)
def test_observed_agreement_is_the_same_in_every_kappa(pairs: list[tuple[str, str]]) -> None:
    """Two raters' table gives what their two lists give; only chance is reckoned otherwise."""
    table = count_ratings(pairs, "abcd")

    observed = cohen_kappa([one for one, _ in pairs], [other for _, other in pairs]).observed

    assert fleiss_kappa(table).observed == pytest.approx(observed)
    assert free_marginal_kappa(table).expected == 0.25
    assert free_marginal_kappa(table).observed == pytest.approx(observed)


def test_kappa_is_none_where_one_class_was_ever_named() -> None:
    """Full agreement that chance explains too says nothing."""
    found = cohen_kappa(["wet"] * 4, ["wet"] * 4)

    assert (found.observed, found.expected, found.kappa) == (1.0, 1.0, None)
    assert fleiss_kappa([[2, 0], [2, 0]]).kappa is None


@pytest.mark.parametrize(
    ("call", "error", "message"),
    [
        (lambda: cohen_kappa([], []), InputError, r"1 or more; here 0 and 0"),
        (lambda: cohen_kappa("ab", "a"), InputError, r"here 2 and 1"),
        (lambda: fleiss_kappa([]), InputError, r"needs 1 row or more"),
        (lambda: fleiss_kappa([[1, 1], [2]]), InputError, r"all of the same length"),
        (lambda: fleiss_kappa([[1, 1], [2, 1]]), InputError, r"number of raters; here 2 to 3"),
        (lambda: free_marginal_kappa([[1, 0]]), OutOfRangeError, r"1 rater cannot agree"),
        (lambda: free_marginal_kappa([[3, -1]]), OutOfRangeError, r"counts of 0 or more"),
        (lambda: fleiss_kappa([[], []]), OutOfRangeError, r"needs counts of 0"),
        (lambda: count_ratings(["az"], "ab"), InputError, r"'z' is none of the 2 classes"),
    ],
)
def test_agreement_refuses_what_means_nothing(
    call: object, error: type[Exception], message: str
) -> None:
    """The message names what was handed in."""
    with pytest.raises(error, match=message):
        call()  # type: ignore[operator]
