"""How a classifier's weights are fitted, and how it scores texts it was not given."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.knowledge._model import Floats
from triage.reading.regression import fit_softmax

# How these were chosen stands in docs/reading.md.
PENALTY = 0.8  # least held-out log-loss of 0.05, 0.1, 0.2, 0.4, 0.8, 1.6
STEPS = 15  # more change nothing that counts
# Of likeness by way of other texts beside that of words; least held-out log-loss of 0, 0.3, 1, 2
KINDRED = 1.0
HELD_OUT = 3  # every third story is held out to see how far the scores may be trusted

Singles = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Taught:
    """Texts to learn from, by what they have in common.

    Parameters
    ----------
    words : array, shape (texts, texts), single precision
        Inner products of their words.
    meaning : array, shape (texts, texts), single precision, or None
        Inner products of their meanings, None without a sentence model.
    target : array, shape (texts, faults)
        Share of each fault in a text.
    weight : array, shape (texts,), above 0
        What each counts for.
    """

    words: Singles
    meaning: Singles | None
    target: Floats
    weight: Floats

    def keep(self, kept: NDArray[np.bool_]) -> "Taught":
        """Return some of the texts."""
        both = np.ix_(kept, kept)
        meaning = None if self.meaning is None else self.meaning[both]
        return Taught(self.words[both], meaning, self.target[kept], self.weight[kept])


@dataclass(frozen=True, slots=True, eq=False)
class Dual:
    """Weights of the texts, shape (texts, faults) each.

    A new text's scores are its products with the texts' words times `words`, and with their
    meanings times `meaning`.
    """

    words: Floats
    meaning: Floats


def fit_dual(taught: Taught) -> Dual:
    """Return the weights of texts, every fault counting the same however many texts it has.

    Two texts also count as alike when they are like the same texts, whatever their own words: to
    the products P of all texts some of P·P is added, each column of the first seen from its mean,
    as being like texts of all kinds tells nothing and would drown the rest. Source: [wong1985].
    """
    target, words = taught.target, taught.words
    main = target.argmax(axis=1)
    total = target.T @ taught.weight
    even = taught.weight * (taught.weight.sum() / len(total)) / total[main]
    alike = words @ words.T  # as it is symmetric; NumPy does half the work for this form
    mean = words.mean(axis=0)
    alike -= len(words) * mean[:, None] * mean
    share = KINDRED * words.diagonal().mean() / alike.diagonal().mean()
    alike *= share
    alike += words
    if taught.meaning is not None:
        alike += taught.meaning
    dual = fit_softmax(alike, target, even, penalty=PENALTY, steps=STEPS)
    by_others = words @ dual.astype(np.float32)
    return Dual(np.asarray(dual + share * (by_others - by_others.mean(axis=0))), dual)


def score_held_out(taught: Taught, count: int) -> tuple[NDArray[np.intp], Floats]:
    """Return one in `HELD_OUT` of the first `count` texts, and their scores without them.

    Returns
    -------
    array of int
        Places of the texts.
    array, shape (places, faults)
        Their scores by a classifier that was not given them.
    """
    out = np.zeros(len(taught.target), dtype=bool)
    out[:count:HELD_OUT] = True
    kept = ~out
    dual = fit_dual(taught.keep(kept))
    scores = taught.words[np.ix_(out, kept)] @ dual.words
    if taught.meaning is not None:
        scores = scores + taught.meaning[np.ix_(out, kept)] @ dual.meaning
    return np.flatnonzero(out), scores
