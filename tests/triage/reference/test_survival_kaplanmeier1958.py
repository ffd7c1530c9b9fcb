"""The product-limit estimate on the worked examples of its trade, and beside SciPy's.

Kaplan and Meier's example (ends at 0.8, 3.1, 5.4, 9.2, losses at 1.0, 2.7, 7.0, 12.1) and the
remissions of Freireich and others (Blood 21, 1963), weeks under the drug, are recalled from memory;
the estimates printed with them are checked here by exact fractions, too.
"""

from collections.abc import Callable
from fractions import Fraction
from random import Random

import numpy as np
import pytest

from triage.errors import OutOfRangeError
from triage.workings.survival import product_limit, time_until

pytestmark = pytest.mark.source("kaplanmeier1958")
EXAMPLE = [(0.8, 1), (1.0, 0), (2.7, 0), (3.1, 1), (5.4, 1), (7.0, 0), (9.2, 1), (12.1, 0)]
DRUG = [(6, 3), (7, 1), (10, 1), (13, 1), (16, 1), (22, 1), (23, 1)]
DRUG_LOST = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
PRINTED = [0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448]
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]


def _drug() -> tuple[list[float], list[bool]]:
    ends = [float(week) for week, count in DRUG for _ in range(count)]
    return ends + [float(w) for w in DRUG_LOST], [True] * len(ends) + [False] * len(DRUG_LOST)


def test_product_limit_agrees_with_the_example_of_its_authors() -> None:
    """7/8, then 4/5, 3/4 and 1/2 of what was left."""
    steps = product_limit([t for t, _ in EXAMPLE], [bool(e) for _, e in EXAMPLE])

    left = [Fraction(7, 8)]
    for share in (Fraction(4, 5), Fraction(3, 4), Fraction(1, 2)):
        left.append(left[-1] * share)
    assert [step.time for step in steps] == [0.8, 3.1, 5.4, 9.2]
    assert [step.at_risk for step in steps] == [8, 5, 4, 2]
    assert [step.waiting for step in steps] == pytest.approx([float(f) for f in left], abs=1e-15)
    assert time_until(steps, 0.5) == 9.2
    assert time_until(steps, 0.9) is None


def test_product_limit_agrees_with_the_remissions() -> None:
    """The table prints three decimals; the medians are 23 and 8 weeks."""
    steps = product_limit(*_drug())

    assert [step.waiting for step in steps] == pytest.approx(PRINTED, abs=5.1e-4)
    assert time_until(steps, 0.5) == 23
    placebo = product_limit([float(week) for week in PLACEBO], [True] * len(PLACEBO))
    assert time_until(placebo, 0.5) == 8


@pytest.mark.parametrize("seed", range(20))
def test_product_limit_agrees_with_scipy(seed: int, needs: Callable[[str, bool], None]) -> None:
    """Some hundred waits with ties, a third of them not over."""
    try:
        from scipy import stats  # type: ignore[import-untyped]  # noqa: PLC0415 - the extra `oracle`
    except ImportError:
        stats = None
    needs("SciPy", stats is not None)
    chance = Random(seed)  # noqa: S311 - no secret
    times = [float(chance.randint(0, 60)) for _ in range(130)]
    ended = [chance.random() < 0.67 for _ in times]

    steps = product_limit(times, ended)

    sample = stats.CensoredData.right_censored(np.array(times), ~np.array(ended))
    curve = stats.ecdf(sample).sf
    there = np.isin(curve.quantiles, [step.time for step in steps])
    assert [step.waiting for step in steps] == pytest.approx(
        list(curve.probabilities[there]), abs=1e-12
    )


@pytest.mark.parametrize("share", [0.5, 0.9, 0.25])
@pytest.mark.parametrize("count", [1, 2, 5, 10, 41])
def test_without_open_ends_it_is_the_nearest_rank(share: float, count: int) -> None:
    """NumPy names Hyndman and Fan's first definition "inverted_cdf"."""
    chance = Random(count)  # noqa: S311 - no secret
    times = [float(chance.randint(0, 40)) for _ in range(count)]

    found = time_until(product_limit(times, [True] * count), share)

    assert found == np.quantile(times, share, method="inverted_cdf")


@pytest.mark.parametrize(
    ("times", "ended"), [([1.0], []), ([-1.0], [True]), ([float("nan")], [True])]
)
def test_waits_that_are_none_are_refused(times: list[float], ended: list[bool]) -> None:
    """Neither a wait without its end, nor one that lasts less than nothing."""
    with pytest.raises(OutOfRangeError, match="wait"):
        product_limit(times, ended)


@pytest.mark.parametrize("share", [0.0, 1.0, -0.1, float("nan")])
def test_share_outside_its_range_is_refused(share: float) -> None:
    """Nobody, and everybody, are reached at no time."""
    with pytest.raises(OutOfRangeError, match="between 0 and 1"):
        time_until(product_limit([1.0], [True]), share)
