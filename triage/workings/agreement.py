"""How far people who judge the same things agree beyond chance: the kappas."""

import math
from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from triage.errors import InputError, OutOfRangeError

LEAST_RATERS = 2


@dataclass(frozen=True, slots=True)
class Agreement:
    """Agreement of raters on things put into classes.

    Parameters
    ----------
    count : int
        Things judged.
    observed : float, 0 to 1
        Share of agreeing pairs of judgements.
    expected : float, 0 to 1
        Share that would agree by chance.
    kappa : float or None, at most 1
        (observed - expected) / (1 - expected): 0 as by chance, 1 always. None when chance alone
        already explains full agreement, as when only one class was ever named.
    """

    count: int
    observed: float
    expected: float
    kappa: float | None


def cohen_kappa(first: Sequence[Hashable], second: Sequence[Hashable]) -> Agreement:
    """Return the agreement of two raters, chance being what each names how often.

    Parameters
    ----------
    first, second : sequence of hashable, shape (things,)
        The class each rater gave to each thing; any number of classes.

    Returns
    -------
    Agreement

    Raises
    ------
    InputError
        If nothing was judged or the lengths differ.

    Notes
    -----
    Source: [cohen1960].
    """
    if not first or len(first) != len(second):
        msg = f"two raters judge the same things, 1 or more; here {len(first)} and {len(second)}"
        raise InputError(msg)
    count = len(first)
    observed = sum(one == other for one, other in zip(first, second, strict=True)) / count
    named, named_too = Counter(first), Counter(second)
    expected = sum(times * named_too[name] for name, times in named.items()) / count**2
    return _agreement(count, observed, expected)


def fleiss_kappa(table: Sequence[Sequence[int]]) -> Agreement:
    """Return the agreement of several raters, chance being how often each class was named.

    Parameters
    ----------
    table : sequence of sequences of int, shape (things, classes)
        How many raters put each thing into each class; each row sums to the same 2 or more.

    Returns
    -------
    Agreement

    Raises
    ------
    InputError
        If there is no row, the rows differ in length or a row sums to another number of raters.
    OutOfRangeError
        If a count is below 0 or there are fewer than 2 raters.

    Notes
    -----
    Source: [fleiss1971].
    """
    raters = _check_table(table)
    total = raters * len(table)
    shares = [sum(column) / total for column in zip(*table, strict=True)]
    return _agreement(len(table), _observed(table, raters), math.fsum(s * s for s in shares))


def free_marginal_kappa(table: Sequence[Sequence[int]]) -> Agreement:
    """Return the agreement of several raters, chance naming every class equally often.

    For raters who are not bound to use each class a certain number of times. With many classes
    chance explains little, and the kappa comes near the observed agreement.

    Parameters
    ----------
    table : sequence of sequences of int, shape (things, classes)
        As for `fleiss_kappa`; classes nobody named count too.

    Returns
    -------
    Agreement

    Raises
    ------
    InputError, OutOfRangeError
        As `fleiss_kappa`.

    Notes
    -----
    Source: [randolph2005].
    """
    raters = _check_table(table)
    return _agreement(len(table), _observed(table, raters), 1.0 / len(table[0]))


def count_ratings(
    ratings: Sequence[Sequence[Hashable]], classes: Sequence[Hashable]
) -> list[list[int]]:
    """Return the table of counts the kappas of several raters take.

    Parameters
    ----------
    ratings : sequence of sequences of hashable, shape (things, raters)
        The class each rater gave to each thing.
    classes : sequence of hashable
        The columns of the table.

    Returns
    -------
    list of lists of int, shape (things, classes)

    Raises
    ------
    InputError
        If a class was given that is not among `classes`.
    """
    for row in ratings:
        for name in row:
            if name not in classes:
                msg = f"'{name}' is none of the {len(classes)} classes"
                raise InputError(msg)
    return [[row.count(name) for name in classes] for row in map(list, ratings)]


def _agreement(count: int, observed: float, expected: float) -> Agreement:
    is_settled = math.isclose(expected, 1.0)
    kappa = None if is_settled else (observed - expected) / (1.0 - expected)
    return Agreement(count, observed, expected, kappa)


def _observed(table: Sequence[Sequence[int]], raters: int) -> float:
    """Return the share of agreeing pairs of raters, averaged over the things."""
    pairs = sum(count * (count - 1) for row in table for count in row)
    return pairs / (len(table) * raters * (raters - 1))


def _check_table(table: Sequence[Sequence[int]]) -> int:
    """Return the number of raters."""
    if not table or len({len(row) for row in table}) > 1:
        msg = "a table of ratings needs 1 row or more, all of the same length"
        raise InputError(msg)
    if min((count for row in table for count in row), default=-1) < 0:
        msg = "a table of ratings needs counts of 0 or more"
        raise OutOfRangeError(msg)
    sums = sorted({sum(row) for row in table})
    if len(sums) > 1:
        msg = f"each thing needs the same number of raters; here {sums[0]} to {sums[-1]}"
        raise InputError(msg)
    if sums[0] < LEAST_RATERS:
        msg = f"{sums[0]} rater cannot agree; {LEAST_RATERS} or more are needed"
        raise OutOfRangeError(msg)
    return sums[0]
