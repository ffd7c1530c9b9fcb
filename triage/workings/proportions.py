"""How sure a share of a few cases is: Wilson's interval and that of a beta distribution."""

import math
from dataclasses import dataclass
from statistics import NormalDist

from triage.errors import OutOfRangeError

USUAL_CONFIDENCE = 0.95
MOST_TERMS = 10_000  # of the continued fraction; it needs about the root of a + b
SETTLED = 1e-15  # relative change of a term that no longer counts
HALVINGS = 80  # of [0, 1]: below the spacing of floating-point numbers


@dataclass(frozen=True, slots=True)
class Interval:
    """The ends of an interval."""

    low: float
    high: float


def wilson_interval(
    successes: int, trials: int, *, confidence: float = USUAL_CONFIDENCE
) -> Interval:
    """Return Wilson's score interval of a proportion, without continuity correction.

    Parameters
    ----------
    successes : int, 0 to `trials`
    trials : int, 1 or more
    confidence : float, 0 to 1, both not included

    Returns
    -------
    Interval
        Within 0 to 1; it is never empty, also with no success or no failure.

    Raises
    ------
    OutOfRangeError
        If a number is outside its range.

    Notes
    -----
    Source: [newcombe1998], method 3.
    """
    _check_counts(successes, trials)
    if trials < 1:
        msg = "0 trials say nothing; the interval needs 1 or more"
        raise OutOfRangeError(msg)
    z = NormalDist().inv_cdf(0.5 + _checked(confidence) / 2)
    share = successes / trials
    middle = share + z * z / (2 * trials)
    half = z * math.sqrt(share * (1 - share) / trials + (z / (2 * trials)) ** 2)
    scale = 1 + z * z / trials
    # At the ends the formula is exact only up to rounding, which may pass 0 or 1.
    low = 0.0 if successes == 0 else (middle - half) / scale
    high = 1.0 if successes == trials else (middle + half) / scale
    return Interval(low, high)


def beta_below(share: float, *, a: float, b: float) -> float:
    """Return the probability that a proportion with a beta distribution is at most `share`.

    Parameters
    ----------
    share : float, 0 to 1
    a, b : float, above 0
        Successes and failures, real or supposed, behind the belief about the proportion.

    Raises
    ------
    OutOfRangeError
        If a number is outside its range.

    Notes
    -----
    Source: [dlmf], 8.17: the regularised incomplete beta function.
    """
    _check_beta(a, b)
    if not 0.0 <= share <= 1.0:
        msg = f"a proportion of {share:g} is outside 0 to 1"
        raise OutOfRangeError(msg)
    return _incomplete_beta(a, b, share)


def beta_interval(a: float, b: float, *, confidence: float = USUAL_CONFIDENCE) -> Interval:
    """Return the interval of a proportion with equal probability on either side.

    Parameters
    ----------
    a, b : float, above 0
        As for `beta_below`.
    confidence : float, 0 to 1, both not included

    Raises
    ------
    OutOfRangeError
        If a number is outside its range.

    Notes
    -----
    Source: [gelman2013], section 2.4.
    """
    _check_beta(a, b)
    tail = (1.0 - _checked(confidence)) / 2
    return Interval(_quantile(a, b, tail), _quantile(a, b, 1.0 - tail))


def chance_of_at_least(successes: int, trials: int, *, a: float, b: float) -> float:
    """Return the probability of `successes` or more in the next `trials`.

    Parameters
    ----------
    successes : int, 0 to `trials`
    trials : int
    a, b : float, above 0
        As for `beta_below`.

    Raises
    ------
    OutOfRangeError
        If a number is outside its range.

    Notes
    -----
    The beta-binomial distribution. Source: [spiegelhalter2004].
    """
    _check_beta(a, b)
    _check_counts(successes, trials)
    now = _log_beta(a, b)
    return math.fsum(
        math.comb(trials, count) * math.exp(_log_beta(a + count, b + trials - count) - now)
        for count in range(successes, trials + 1)
    )


def _quantile(a: float, b: float, chance: float) -> float:
    """Return the proportion below which `chance` lies, by halving."""
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if _incomplete_beta(a, b, middle) < chance:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _check_beta(a: float, b: float) -> None:
    for name, value in (("a", a), ("b", b)):
        if not 0.0 < value < math.inf:
            msg = f"{name} of a beta distribution is {value:g}; it must be above 0 and finite"
            raise OutOfRangeError(msg)


def _check_counts(successes: int, trials: int) -> None:
    if not 0 <= successes <= trials:
        msg = f"{successes} successes of {trials} trials; they must lie in 0 to {max(trials, 0)}"
        raise OutOfRangeError(msg)


def _checked(confidence: float) -> float:
    if not 0.0 < confidence < 1.0:
        msg = f"a confidence of {confidence:g} must lie between 0 and 1, both not included"
        raise OutOfRangeError(msg)
    return confidence


def _log_beta(a: float, b: float) -> float:
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)


def _incomplete_beta(a: float, b: float, x: float) -> float:
    """Return the regularised incomplete beta function I_x(a, b)."""
    if x in (0.0, 1.0):
        return x
    if x > (a + 1) / (a + b + 2):  # the fraction converges fast on the other side only
        return 1.0 - _incomplete_beta(b, a, 1.0 - x)
    front = math.exp(a * math.log(x) + b * math.log1p(-x) - _log_beta(a, b)) / a
    return front * _beta_fraction(a, b, x)


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Return the continued fraction of the incomplete beta function, after Lentz.

    Source: [dlmf], 8.17.22.
    """
    tiny = 1e-300
    value = upper = 1.0
    lower = 0.0
    for term in range(MOST_TERMS):
        half, is_odd = divmod(term, 2)
        if term == 0:
            step = 1.0
        elif is_odd:
            step = -(a + half) * (a + b + half) * x / ((a + 2 * half) * (a + 2 * half + 1))
        else:
            step = half * (b - half) * x / ((a + 2 * half - 1) * (a + 2 * half))
        lower = 1.0 / _away_from_0(1.0 + step * lower, tiny)
        upper = _away_from_0(1.0 + step / upper, tiny)
        change = upper * lower
        value *= change
        if term > 0 and abs(change - 1.0) < SETTLED:
            break
    return value - 1.0


def _away_from_0(value: float, tiny: float) -> float:
    return value if abs(value) > tiny else tiny
