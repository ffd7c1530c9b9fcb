"""How well the words of a stretch belong together: each stretch has a vocabulary of its own.

The words of a stretch are drawn from shares that are themselves drawn about the shares of the
whole show (a Dirichlet-multinomial), so that a word said before in the same stretch is likelier
there than elsewhere. Source: [eisenstein2008].
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.knowledge._model import Floats

CONCENTRATION = 200.0  # how near a stretch keeps to the shares of the show
MOST_REPEATS = 12  # of a word in a stretch that still add something worth the time


@dataclass(frozen=True, slots=True, eq=False)
class Cohesion:
    """The log-likelihood ratio of every stretch's own vocabulary over that of the show.

    Parameters
    ----------
    repeats : array of single precision, shape (places + 1, places)
        For each end (row) and start (column) what repeated words add.
    count : array of int, shape (places + 1,)
        Telling words up to each place.
    cost : array, shape (telling words + 1,)
        What so many words cost, as the shares of the stretch have to be guessed.
    """

    repeats: NDArray[np.float32]
    count: NDArray[np.intp]
    cost: Floats

    def before(self, end: int, low: int) -> Floats:
        """Return the ratio of the stretches from `low`, `low` + 1, … up to an end."""
        counts = self.count[end] - self.count[low:end]
        return np.asarray(self.repeats[end, low:end] - self.cost[counts])

    def behind(self, start: int, high: int) -> Floats:
        """Return the ratio of the stretches from a start to the ends `start` + 1 … `high` - 1."""
        counts = self.count[start + 1 : high] - self.count[start]
        return np.asarray(self.repeats[start + 1 : high, start] - self.cost[counts])


def weigh_cohesion(
    stems: Sequence[str], first_word: NDArray[np.intp], *, concentration: float = CONCENTRATION
) -> Cohesion:
    """Return the cohesion of every stretch between places.

    Parameters
    ----------
    stems : sequence of str
        Of the words in order; empty ones tell nothing.
    first_word : array of int, shape (places,)
        The word each place begins with, rising.
    concentration : float, above 0

    Returns
    -------
    Cohesion
        Its size is the square of the number of places.
    """
    places = len(first_word)
    telling = np.fromiter((bool(found) for found in stems), bool, len(stems))
    total = int(telling.sum())
    running = np.concatenate(([0], np.cumsum(telling)))
    count = running[np.append(first_word, len(stems))].astype(np.intp)
    steps = np.arange(total, dtype=np.float64)
    cost = np.concatenate(([0.0], np.cumsum(np.log1p(steps / concentration))))
    table = np.zeros((places + 1, places), dtype=np.float32)
    at = np.maximum(np.searchsorted(first_word, np.arange(len(stems)), side="right") - 1, 0)
    rows, columns, gains = _list_repeats(stems, at.tolist(), concentration / max(total, 1))
    np.add.at(table, (np.array(rows, np.intp) + 1, np.array(columns, np.intp)), gains)
    np.cumsum(table, axis=0, out=table)
    back = table[:, ::-1]
    np.cumsum(back, axis=1, out=back)
    return Cohesion(table, count, cost)


def _list_repeats(
    stems: Sequence[str], at: Sequence[int], scale: float
) -> tuple[list[int], list[int], list[float]]:
    """Return the place of each repeat, that of the use it repeats, and what the pair adds.

    A word's nth use in a stretch adds log((n - 1 + a) / a); told as a sum over the uses before it,
    nearest first, so that those outside of a stretch can be left out of it.
    """
    uses: dict[str, list[int]] = {}
    for word, found in enumerate(stems):
        if found:
            uses.setdefault(found, []).append(at[word])
    rows: list[int] = []
    columns: list[int] = []
    gains: list[float] = []
    for places in uses.values():
        prior = scale * len(places)
        steps = [math.log((n + 1 + prior) / (n + prior)) for n in range(MOST_REPEATS)]
        for order in range(1, len(places)):
            for back in range(1, min(order, MOST_REPEATS) + 1):
                rows.append(places[order])
                columns.append(places[order - back])
                gains.append(steps[back - 1])
    return rows, columns, gains
