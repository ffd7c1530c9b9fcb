"""What a number of the knowledge is worth against counts: Beta distributions.

An expert's number p of provenance s counts as the Beta distribution with mean p and

    looks(p, s) = even_looks(s) / (4·p·(1 - p))

pseudo-observations, so that ``even_looks`` is the number of looks it is worth at p = 1/2. The
division by p·(1 - p) makes the *odds* of a number equally sure whatever its size: the standard
deviation of its log odds is about 2/sqrt(even_looks). With a number of looks that did not depend
on p, an estimate of 2 % "worth eight looks" would rest on a sixth of one event, and the first
case would multiply it by six.
"""

import math
from dataclasses import dataclass
from types import MappingProxyType

from triage.errors import OutOfRangeError

# Looks an expert's number is worth at p = 1/2, by its source. 8 looks: the odds are known to a
# factor of about 2 (one standard deviation), as good as an estimate from memory gets; 20: to
# 1.6, where a trade agrees but nobody counted. [judgement: desk, 2026-11-25]
EVEN_LOOKS = MappingProxyType({"memory": 8.0, "common-practice": 20.0})
# The same for a number with a published source: to a factor of 1.3. Not more, for the prints of
# a study are not those a clinic sees. [judgement: desk, 2026-11-25]
PUBLISHED_LOOKS = 60.0


@dataclass(frozen=True, slots=True)
class Beta:
    """A Beta distribution of a probability.

    Parameters
    ----------
    successes, failures : float, above 0
        Its two parameters: pseudo-observations and observations of either kind.

    Raises
    ------
    OutOfRangeError
        If one is not a finite number above 0.
    """

    successes: float
    failures: float

    def __post_init__(self) -> None:
        pair = (self.successes, self.failures)
        if not all(math.isfinite(count) and count > 0.0 for count in pair):
            msg = f"Beta{pair}: both counts must be finite and above 0"
            raise OutOfRangeError(msg)

    @property
    def looks(self) -> float:
        """Observations and pseudo-observations together."""
        return self.successes + self.failures

    @property
    def mean(self) -> float:
        """Expected value of the probability."""
        return self.successes / self.looks

    @property
    def deviation(self) -> float:
        """Standard deviation of the probability."""
        return math.sqrt(self.mean * (1.0 - self.mean) / (self.looks + 1.0))

    def after(self, successes: float, failures: float) -> "Beta":
        """Return the distribution after more observations, which may be fractions.

        Parameters
        ----------
        successes, failures : float, 0 or more

        Returns
        -------
        Beta

        Raises
        ------
        OutOfRangeError
            If a count is negative or not finite.

        Notes
        -----
        The Beta distribution is conjugate to the binomial: counts are added. Its mean is also
        the most probable value on the scale of log odds, which is why it serves as the
        maximisation step of `learn`. Source: [gelman2013].
        """
        if not all(math.isfinite(count) and count >= 0.0 for count in (successes, failures)):
            msg = f"counts ({successes:g}, {failures:g}) must be finite and 0 or more"
            raise OutOfRangeError(msg)
        return Beta(self.successes + successes, self.failures + failures)


def expert_beta(value: float, source: str) -> Beta:
    """Return what an expert's number is worth before any case.

    Parameters
    ----------
    value : float, above 0 and below 1
        The number as the knowledge states it.
    source : str
        Its provenance: "memory", "common-practice" or the key of a published source.

    Returns
    -------
    Beta
        With mean `value`.

    Raises
    ------
    OutOfRangeError
        If the value is not strictly between 0 and 1: no count could move it.
    """
    if not 0.0 < value < 1.0:
        msg = f"{value:g} must lie between 0 and 1, neither included, to be learned"
        raise OutOfRangeError(msg)
    even = EVEN_LOOKS.get(source, PUBLISHED_LOOKS)
    # looks·p and looks·(1 - p), written so that nothing is divided by a product near 0.
    return Beta(even / (4.0 * (1.0 - value)), even / (4.0 * value))
