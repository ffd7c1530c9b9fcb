"""How far a cut into segments agrees with the true one.

A cut of n units (seconds, sentences, …) is given by its n - 1 gaps: for each two neighbouring
units, whether a segment ends between them.
"""

from collections.abc import Callable, Sequence

from triage.errors import InputError, OutOfRangeError

Gaps = Sequence[bool]


def half_mean_length(true: Gaps) -> int:
    """Return half the mean length of the true segments, in whole units, 1 or more.

    This is the customary window of `pk` and `window_diff`. Source: [beeferman1999].
    """
    segments = sum(map(bool, true)) + 1
    return max(1, round((len(true) + 1) / segments / 2))


def pk(true: Gaps, found: Gaps, *, window: int | None = None) -> float:
    """Return how often two units a window apart are wrongly held to be in one segment, or not.

    Parameters
    ----------
    true, found : sequence of bool, shape (units - 1,)
    window : int, 1 to the number of gaps, or None
        Distance of the two units; None for half the mean length of the true segments.

    Returns
    -------
    float, 0 to 1
        0 for a perfect cut; about 0.5 for one by chance.

    Raises
    ------
    InputError
        If there is no gap or the lengths differ.
    OutOfRangeError
        If the window is out of its range.

    Notes
    -----
    Source: [beeferman1999].
    """
    return _compare(true, found, window, lambda one, other: (one > 0) != (other > 0))


def window_diff(true: Gaps, found: Gaps, *, window: int | None = None) -> float:
    """Return how often a window holds another number of segment ends than it should.

    Parameters
    ----------
    true, found : sequence of bool, shape (units - 1,)
    window : int, 1 to the number of gaps, or None
        Distance of the first and the last unit; None for half the mean length of the true segments.

    Returns
    -------
    float, 0 to 1
        0 for a perfect cut.

    Raises
    ------
    InputError
        If there is no gap or the lengths differ.
    OutOfRangeError
        If the window is out of its range.

    Notes
    -----
    Source: [pevzner2002].
    """
    return _compare(true, found, window, lambda one, other: one != other)


def mark_gaps(starts_s: Sequence[float], *, end_s: float, unit_s: float = 1.0) -> list[bool]:
    """Return the gaps of a cut given by the times at which its segments start.

    Parameters
    ----------
    starts_s : sequence of float
        The first segment starts at 0 whatever is given; starts at or past `end_s` count nothing.
    end_s : float, above 0
    unit_s : float, above 0

    Returns
    -------
    list of bool, shape (units - 1,)

    Raises
    ------
    OutOfRangeError
        If `end_s` or `unit_s` is not above 0.
    """
    if not end_s > 0.0 or not unit_s > 0.0:
        msg = f"a show of {end_s} s in units of {unit_s} s cannot be cut; both must be above 0"
        raise OutOfRangeError(msg)
    gaps = [False] * max(1, int(end_s / unit_s) - 1)
    for start_s in starts_s:
        place = round(start_s / unit_s) - 1
        if 0 <= place < len(gaps):
            gaps[place] = True
    return gaps


def count_near(true_s: Sequence[float], found_s: Sequence[float], *, within_s: float) -> int:
    """Return how many true times have a found one near, each found one serving one true one.

    Both in rising order. On a line, giving each true time the first free one near it serves as
    many as can be.
    """
    served = at = 0
    for time_s in true_s:
        while at < len(found_s) and found_s[at] < time_s - within_s:
            at += 1
        if at < len(found_s) and found_s[at] <= time_s + within_s:
            served += 1
            at += 1
    return served


def _compare(
    true: Gaps, found: Gaps, window: int | None, differ: Callable[[int, int], bool]
) -> float:
    """Return the share of windows whose numbers of segment ends differ."""
    if not true or len(true) != len(found):
        msg = f"two cuts of the same units are compared; here {len(true)} and {len(found)} gaps"
        raise InputError(msg)
    width = half_mean_length(true) if window is None else window
    if not 1 <= width <= len(true):
        msg = f"a window of {width} must lie in 1 to {len(true)}, the number of gaps"
        raise OutOfRangeError(msg)
    one, other = sum(map(bool, true[:width])), sum(map(bool, found[:width]))
    wrong = int(differ(one, other))
    for at in range(width, len(true)):
        one += bool(true[at]) - bool(true[at - width])
        other += bool(found[at]) - bool(found[at - width])
        wrong += differ(one, other)
    return wrong / (len(true) - width + 1)
