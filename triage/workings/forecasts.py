"""How good probabilities were, once it is known what happened.

A forecast is a probability that something is so; its outcome is whether it was.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from triage.errors import InputError, OutOfRangeError

USUAL_BINS = 10
# Where a probability is taken for at least this, so that one flat denial does not cost infinitely
# much. Another floor gives other log-losses [judgement: desk, 2026-11-25]
LOG_FLOOR = 1e-6

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ReliabilityRow:
    """One bin of a reliability table: what was forecast in it, and what happened.

    `low` and `high` are its edges, `forecast` the mean forecast in it, `observed` the share of
    them that came true.
    """

    low: float
    high: float
    count: int
    forecast: float
    observed: float


@dataclass(frozen=True, slots=True)
class BrierParts:
    """A Brier score and its parts.

    score = reliability - resolution + uncertainty + within_variance - within_covariance. The two
    within-bin parts are 0 when every bin holds one forecast value.

    Parameters
    ----------
    score : float, 0 to 1
        Mean squared difference of forecast and outcome; 0 is perfect.
    reliability : float
        How far the bins' outcomes are from their forecasts; 0 is perfect.
    resolution : float
        How far the bins' outcomes differ from the overall share; more is better.
    uncertainty : float
        What always forecasting the overall share would score.
    within_variance, within_covariance : float
        What is lost by putting unequal forecasts into one bin.
    """

    score: float
    reliability: float
    resolution: float
    uncertainty: float
    within_variance: float
    within_covariance: float


def brier_score(outcomes: ArrayLike, chances: ArrayLike) -> float:
    """Return the Brier score of yes/no forecasts: the mean squared difference, 0 to 1.

    Parameters
    ----------
    outcomes : array-like of bool, shape (n,), n >= 1
    chances : array-like of float, shape (n,), 0 to 1

    Raises
    ------
    InputError
        If there is no forecast or the lengths differ.
    OutOfRangeError
        If a probability is outside 0 to 1 or an outcome is neither 0 nor 1.

    Notes
    -----
    Source: [brier1950], halved: the sum over both classes is twice this.
    """
    happened, chance = _checked(outcomes, chances)
    return float(np.mean((chance - happened) ** 2))


def brier_score_classes(truths: Sequence[int], chances: ArrayLike) -> float:
    """Return the Brier score of forecasts over classes that exclude each other, 0 to 2.

    Parameters
    ----------
    truths : sequence of int, shape (n,), n >= 1
        The class that came true, as a column of `chances`.
    chances : array-like of float, shape (n, classes), 0 to 1
        Each row sums to 1.

    Raises
    ------
    InputError
        If there is no forecast, the lengths differ or a row does not sum to 1.
    OutOfRangeError
        If a probability is outside 0 to 1 or a class is none of the columns.

    Notes
    -----
    Source: [brier1950].
    """
    table = np.asarray(chances, dtype=float)
    if table.ndim != 2 or not len(table) or len(table) != len(truths):
        msg = f"{len(truths)} outcomes need a table of as many rows; its shape is {table.shape}"
        raise InputError(msg)
    if not 0 <= min(truths) <= max(truths) < table.shape[1]:
        msg = f"outcomes {min(truths)} to {max(truths)} must be columns 0 to {table.shape[1] - 1}"
        raise OutOfRangeError(msg)
    happened = np.zeros_like(table)
    happened[np.arange(len(table)), list(truths)] = 1.0
    _checked(happened.ravel(), table.ravel())
    sums = table.sum(axis=1)
    if not np.allclose(sums, 1.0, atol=1e-6):
        worst = sums[np.argmax(np.abs(sums - 1.0))]
        msg = f"the probabilities of a row sum to {worst:g}; they must sum to 1"
        raise InputError(msg)
    return float(np.mean(((table - happened) ** 2).sum(axis=1)))


def log_loss(outcomes: ArrayLike, chances: ArrayLike, *, floor: float = LOG_FLOOR) -> float:
    """Return the mean surprise at what happened, in nats.

    Parameters
    ----------
    outcomes, chances
        As for `brier_score`.
    floor : float, above 0, below 0.5
        Probabilities nearer to 0 or 1 than this are moved to it.

    Raises
    ------
    InputError, OutOfRangeError
        As `brier_score`; also if `floor` is outside its range.

    Notes
    -----
    Source: [good1952], the logarithmic score with its sign turned: 0 is perfect.
    """
    if not 0.0 < floor < 0.5:
        msg = f"a floor of {floor:g} must lie between 0 and 0.5"
        raise OutOfRangeError(msg)
    happened, chance = _checked(outcomes, chances)
    given = np.clip(np.where(happened == 1.0, chance, 1.0 - chance), floor, 1.0 - floor)
    return float(-np.mean(np.log(given)))


def decompose_brier(outcomes: ArrayLike, chances: ArrayLike) -> BrierParts:
    """Return the Brier score and its parts, one bin for each value that was forecast.

    Parameters
    ----------
    outcomes, chances
        As for `brier_score`.

    Raises
    ------
    InputError, OutOfRangeError
        As `brier_score`.

    Notes
    -----
    Source: [murphy1973].
    """
    happened, chance = _checked(outcomes, chances)
    _, groups = np.unique(chance, return_inverse=True)
    return _decompose(happened, chance, groups)


def decompose_brier_binned(
    outcomes: ArrayLike, chances: ArrayLike, *, bins: int = USUAL_BINS
) -> BrierParts:
    """Return the Brier score and its parts over bins of equal width; the sum still closes.

    Parameters
    ----------
    outcomes, chances
        As for `brier_score`.
    bins : int, 1 or more

    Raises
    ------
    InputError, OutOfRangeError
        As `brier_score`; also if `bins` is below 1.

    Notes
    -----
    Source: [stephenson2008] for the two within-bin parts.
    """
    happened, chance = _checked(outcomes, chances)
    return _decompose(happened, chance, _bin(chance, bins))


def reliability_table(
    outcomes: ArrayLike, chances: ArrayLike, *, bins: int = USUAL_BINS
) -> tuple[ReliabilityRow, ...]:
    """Return what was forecast and what happened in bins of equal width, empty ones left out.

    Parameters
    ----------
    outcomes, chances
        As for `brier_score`.
    bins : int, 1 or more
        A forecast on an edge belongs to the bin above, 1 to the last.

    Raises
    ------
    InputError, OutOfRangeError
        As `brier_score`; also if `bins` is below 1.
    """
    happened, chance = _checked(outcomes, chances)
    place = _bin(chance, bins)
    return tuple(
        ReliabilityRow(
            low=at / bins,
            high=(at + 1) / bins,
            count=int(np.sum(place == at)),
            forecast=float(np.mean(chance[place == at])),
            observed=float(np.mean(happened[place == at])),
        )
        for at in map(int, np.unique(place))
    )


def calibration_error(outcomes: ArrayLike, chances: ArrayLike, *, bins: int = USUAL_BINS) -> float:
    """Return the expected calibration error over bins of equal width, 0 to 1.

    The mean over all forecasts of the distance between the mean forecast and the share that came
    true in their bin. It depends on the number of bins, and is above 0 by chance alone when the
    bins are thin.

    Parameters
    ----------
    outcomes, chances, bins
        As for `reliability_table`.

    Raises
    ------
    InputError, OutOfRangeError
        As `reliability_table`.

    Notes
    -----
    Source: [naeini2015].
    """
    happened, chance = _checked(outcomes, chances)
    gaps = np.bincount(_bin(chance, bins), weights=chance - happened)
    return float(np.abs(gaps).sum() / len(chance))


def _decompose(happened: Floats, chance: Floats, groups: NDArray[np.intp]) -> BrierParts:
    """Return the parts of the score for forecasts put into groups numbered from 0."""
    count = np.bincount(groups)
    filled = np.maximum(count, 1)
    forecast = (np.bincount(groups, weights=chance) / filled)[groups]
    observed = (np.bincount(groups, weights=happened) / filled)[groups]
    overall = float(np.mean(happened))
    return BrierParts(
        score=float(np.mean((chance - happened) ** 2)),
        reliability=float(np.mean((forecast - observed) ** 2)),
        resolution=float(np.mean((observed - overall) ** 2)),
        uncertainty=overall * (1.0 - overall),
        within_variance=float(np.mean((chance - forecast) ** 2)),
        within_covariance=float(2.0 * np.mean((chance - forecast) * (happened - observed))),
    )


def _bin(chance: Floats, bins: int) -> NDArray[np.intp]:
    """Return the bin of each probability, counted from 0."""
    if bins < 1:
        msg = f"{bins} bins; 1 or more are needed"
        raise OutOfRangeError(msg)
    return np.minimum((chance * bins).astype(np.intp), bins - 1)


def _checked(outcomes: ArrayLike, chances: ArrayLike) -> tuple[Floats, Floats]:
    """Return outcomes as 0 and 1, and their probabilities."""
    happened, chance = np.asarray(outcomes, dtype=float), np.asarray(chances, dtype=float)
    if happened.ndim != 1 or happened.shape != chance.shape or not len(chance):
        msg = (
            f"outcomes of shape {happened.shape} and probabilities of shape {chance.shape} "
            "must be two rows of the same length, 1 or more"
        )
        raise InputError(msg)
    wrong = chance[~((chance >= 0.0) & (chance <= 1.0))]  # also finds NaN
    if len(wrong):
        msg = f"a probability of {wrong[0]:g} is outside 0 to 1"
        raise OutOfRangeError(msg)
    odd = happened[~np.isin(happened, (0.0, 1.0))]
    if len(odd):
        msg = f"an outcome of {odd[0]:g} is neither 0 nor 1"
        raise OutOfRangeError(msg)
    return happened, chance
