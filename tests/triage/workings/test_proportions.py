"""Intervals of proportions: limits, laws and refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.errors import OutOfRangeError
from triage.workings.proportions import (
    beta_below,
    beta_interval,
    chance_of_at_least,
    wilson_interval,
)


@given(trials=st.integers(1, 400), data=st.data())
def test_wilson_interval_holds_the_share_and_mirrors(trials: int, data: st.DataObject) -> None:
    """The share lies inside, and failures have the mirrored interval."""
    successes = data.draw(st.integers(0, trials))

    interval = wilson_interval(successes, trials)
    mirror = wilson_interval(trials - successes, trials)

    assert 0.0 <= interval.low <= successes / trials <= interval.high <= 1.0
    assert (mirror.low, mirror.high) == pytest.approx((1 - interval.high, 1 - interval.low))


def test_wilson_interval_grows_with_confidence() -> None:
    """More confidence needs more room."""
    wide, narrow = wilson_interval(7, 10, confidence=0.99), wilson_interval(7, 10, confidence=0.5)

    assert wide.low < narrow.low < narrow.high < wide.high


@pytest.mark.parametrize(
    ("share", "a", "b", "expected"),
    [
        (0.3, 1, 1, 0.3),
        (0.3, 2, 1, 0.09),
        (0.3, 1, 3, 1 - 0.7**3),
        (0.25, 0.5, 0.5, 2 / math.pi * math.asin(0.5)),  # the arcsine law
        (0.0, 3, 4, 0.0),
        (1.0, 3, 4, 1.0),
    ],
)
def test_beta_below_where_it_has_a_closed_form(
    share: float, a: float, b: float, expected: float
) -> None:
    """Uniform, power and arcsine distributions."""
    assert beta_below(share, a=a, b=b) == pytest.approx(expected, rel=1e-12)


@given(a=st.integers(1, 30), b=st.integers(1, 30), share=st.floats(0.01, 0.99))
def test_beta_below_is_a_binomial_tail(a: int, b: int, share: float) -> None:
    """I_x(a, b) is the chance of a or more successes in a + b - 1 trials."""
    trials = a + b - 1
    tail = math.fsum(
        math.comb(trials, k) * share**k * (1 - share) ** (trials - k) for k in range(a, trials + 1)
    )

    assert beta_below(share, a=a, b=b) == pytest.approx(tail, abs=1e-12)


@pytest.mark.parametrize("scale", [1.0, 10.0, 1e3, 1e6])
def test_beta_interval_leaves_equal_tails(scale: float) -> None:
    """From one observation to a million, 2.5 % lie below and above."""
    a, b = 0.3 * scale, 0.7 * scale

    interval = beta_interval(a, b)

    assert beta_below(interval.high, a=a, b=b) == pytest.approx(0.975, abs=1e-8)
    assert beta_below(interval.low, a=a, b=b) == pytest.approx(0.025, abs=1e-8)


def test_chance_of_at_least_none_is_certain() -> None:
    """The chances of all counts sum to 1, for so many trials too that powers would overflow."""
    assert chance_of_at_least(0, 300, a=2.5, b=0.5) == pytest.approx(1.0, abs=1e-11)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: wilson_interval(3, 2), r"3 successes of 2 trials; they must lie in 0 to 2"),
        (lambda: wilson_interval(-1, 2), r"-1 successes of 2 trials"),
        (lambda: wilson_interval(0, 0), r"0 trials say nothing"),
        (lambda: wilson_interval(1, 2, confidence=1.0), r"a confidence of 1 must lie between"),
        (lambda: beta_below(1.5, a=1, b=1), r"a proportion of 1\.5 is outside 0 to 1"),
        (lambda: beta_below(0.5, a=0, b=1), r"a of a beta distribution is 0; it must be above 0"),
        (lambda: beta_interval(1, math.inf), r"b of a beta distribution is inf"),
        (lambda: beta_interval(1, 1, confidence=0.0), r"a confidence of 0"),
        (lambda: chance_of_at_least(5, 4, a=1, b=1), r"5 successes of 4 trials"),
    ],
)
def test_proportions_refuse_what_means_nothing(call: object, message: str) -> None:
    """The message names the value and the limit."""
    with pytest.raises(OutOfRangeError, match=message):
        call()  # type: ignore[operator]
