"""From a classifier's scores to likelihood ratios that mean what they say."""

import math

import numpy as np
from numpy.typing import NDArray

from triage.knowledge._model import Floats
from triage.reading.regression import softmax

SHARPEST = 1000.0  # far above what any fit gives; keeps a set that is told apart perfectly finite
_HALVINGS = 50


def fit_sharpness(score: Floats, main: NDArray[np.intp], share: Floats) -> float:
    """Return the factor that makes scores log-likelihoods, the one of least log-loss.

    Of softmax(factor · score), which takes every class for equally common.

    Parameters
    ----------
    score : array, shape (texts, classes)
        Of texts the classifier was not trained with.
    main : array of int, shape (texts,)
        Class of each text.
    share : array, shape (texts,), above 0
        What each text counts for.

    Returns
    -------
    float
        0 to `SHARPEST`; 0 when the scores tell nothing.

    Notes
    -----
    The loss is convex in the factor, so its slope is halved in on. One factor for all classes
    is temperature scaling. Source: [guo2017].
    """
    own = score[np.arange(len(score)), main]

    def slope(factor: float) -> float:
        chance = softmax(factor * score)
        return float(share @ ((chance * score).sum(axis=1) - own))

    low, high = 0.0, SHARPEST
    if slope(low) >= 0.0:
        return low
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if slope(middle) < 0.0:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def log_ratios(log_likelihood: Floats, prior: Floats, *, unlike: float) -> Floats:
    """Return ln(P(text | class) / P(text)), shape (classes,).

    P(text) is the mean of the likelihoods by the prior, so that the ratios' own mean by the
    prior is 1 and a text that fits all classes alike changes nothing.

    Parameters
    ----------
    log_likelihood : array, shape (classes,)
        Natural logarithms, up to a constant common to all.
    prior : array, shape (classes,), not all 0
        Only its proportions matter.
    unlike : float, 0 to 1
        Probability that a text was written in a way the classifier knows nothing of, so that it
        tells nothing: no ratio is below it.
    """
    top = float(log_likelihood.max())
    mean = float(np.exp(log_likelihood - top) @ prior) / float(prior.sum())
    return np.logaddexp(
        math.log1p(-unlike) + log_likelihood - top - math.log(mean), math.log(unlike)
    )
