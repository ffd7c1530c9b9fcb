"""The value of information of a small decision table, as the textbooks define it."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from triage.errors import OutOfRangeError
from triage.knowledge._model import Floats

# How far probabilities may be from summing to 1
_ROUNDING = 1e-9


def expected_value_of_information(
    prior: Sequence[float], likelihood: ArrayLike, utilities: ArrayLike
) -> float:
    """Return what it is worth to see one observation before choosing an act.

    Parameters
    ----------
    prior : sequence of float, shape (states,)
        Probability of each state of the world; together 1.
    likelihood : array, shape (states, answers)
        P(answer | state); each row sums to 1.
    utilities : array, shape (states, acts)
        What each act brings in each state, in any one unit; a cost is negative.

    Returns
    -------
    float
        Expected utility of the best act after the observation less that of the best act
        without it, in the unit of `utilities`; 0 or more.

    Raises
    ------
    OutOfRangeError
        If shapes do not fit, a probability is outside 0 to 1, probabilities do not sum to 1 or
        a utility is not finite.

    Notes
    -----
    Source: [savage2020], [koller2009].
    """
    chances = _check_distribution("the prior", np.asarray(prior, dtype=float))
    given = np.asarray(likelihood, dtype=float)
    gains = _check_utilities(np.asarray(utilities, dtype=float), len(chances))
    _check_rows(given, len(chances))
    # One row for each answer: P(answer, state) times what the acts bring.
    informed = ((chances[:, None] * given).T @ gains).max(axis=1).sum()
    return max(0.0, float(informed - (chances @ gains).max()))


def expected_value_of_perfect_information(prior: Sequence[float], utilities: ArrayLike) -> float:
    """Return what it is worth to be told the state of the world before choosing an act.

    Parameters, errors and source as for `expected_value_of_information`.

    Returns
    -------
    float
        No observation is worth more; 0 or more.
    """
    return expected_value_of_information(prior, np.eye(len(prior)), utilities)


def information_gain_bits(prior: Sequence[float] | Floats, likelihood: ArrayLike) -> float:
    """Return the expected drop of the entropy of the state by one observation, bits.

    Parameters
    ----------
    prior : sequence of float, shape (states,)
    likelihood : array, shape (states, answers)
        P(answer | state), two answers or more.

    Returns
    -------
    float
        The mutual information of state and answer; 0 or more.

    Raises
    ------
    OutOfRangeError
        As for `expected_value_of_information`.

    Notes
    -----
    Source: [mitchell1997].
    """
    chances = _check_distribution("the prior", np.asarray(prior, dtype=float))
    given = np.asarray(likelihood, dtype=float)
    _check_rows(given, len(chances))
    doubt = _entropies(given) @ chances  # of the answer when the state is known
    return max(0.0, float(_entropies((chances @ given)[None])[0] - doubt))


def _entropies(rows: Floats) -> Floats:
    """Return the entropy of each row, a distribution, in bits."""
    return np.asarray(-(rows * np.log2(np.where(rows > 0.0, rows, 1.0))).sum(axis=1))


def _check_rows(likelihood: Floats, states: int) -> None:
    if likelihood.ndim != 2 or len(likelihood) != states:
        msg = f"the likelihood has shape {likelihood.shape}; it needs a row for each of {states}"
        raise OutOfRangeError(f"{msg} states")
    for at, row in enumerate(likelihood):
        _check_distribution(f"row {at} of the likelihood", row)


def _check_distribution(name: str, values: Floats) -> Floats:
    if values.ndim != 1 or not len(values):
        msg = f"{name} has shape {values.shape}; it must be one row of probabilities"
        raise OutOfRangeError(msg)
    for value in values.tolist():
        if not 0.0 <= value <= 1.0:
            msg = f"{name} holds the probability {value:g}, outside 0 to 1"
            raise OutOfRangeError(msg)
    if abs(values.sum() - 1.0) > _ROUNDING:
        msg = f"{name} sums to {values.sum():g}; probabilities must sum to 1"
        raise OutOfRangeError(msg)
    return values


def _check_utilities(utilities: Floats, states: int) -> Floats:
    if utilities.ndim != 2 or len(utilities) != states or not utilities.shape[1]:
        msg = f"the utilities have shape {utilities.shape}; they need a row for each of {states}"
        raise OutOfRangeError(f"{msg} states and at least one act")
    if not np.isfinite(utilities).all():
        msg = "a utility is not a finite number"
        raise OutOfRangeError(msg)
    return utilities
