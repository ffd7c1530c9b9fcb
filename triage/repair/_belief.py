"""Beliefs a plan is made with: how probable it is that a set of remedies changes nothing.

Given the evidence faults are not independent: two faults that explain the same finding push each
other out, and typically one of them is there. Two beliefs keep that, one exact and one quick.

`Joint` asks the network itself. "Nothing changed" multiplies the weight of each fault by 1 - cure,
as an absent finding multiplies it by 1 - link, so one more column of the sum over all sets of
faults gives the exact probability.

`Belief` is a mixture to search with. It is split into *parts*: in part k the k-th likeliest fault
is there and none likelier; in the last, none of them. Probabilities inside a part are exact, so
those of the whole are too; only the dependence that remains inside a part is left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from triage.inference import Posterior
from triage.knowledge._model import Floats

# Faults that get a part of their own [judgement: desk, 2026-11-25]
MOST_PARTS = 8
LEAST_PART = 0.01  # faults less probable get none [judgement: desk, 2026-11-25]
NEGLIGIBLE = 1e-3  # no remedy is looked for because of a fault less probable
_TINY = 1e-300  # keeps a division by a probability of 0 from failing; its result has weight 0


class Failing(Protocol):
    """A belief, asked how probable it is that what was done has changed nothing."""

    def failing(self, rest: Floats) -> Floats:
        """Return the probability that nothing changed, shape (sets,).

        Parameters
        ----------
        rest : array, shape (sets, faults)
            Probability that each fault outlasts the remedies of the set.
        """


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """A mixture of parts inside which the faults are independent.

    Parameters
    ----------
    weight : array, shape (parts,)
        Probability of each part.
    chances : array, shape (parts, faults)
        Probability of each fault inside each part.
    """

    weight: Floats
    chances: Floats

    def failing(self, rest: Floats) -> Floats:
        """Return the probability that nothing changed; see `Failing`."""
        touched = np.flatnonzero((rest < 1.0).any(axis=0) & self.chances.any(axis=0))
        loss = 1.0 - rest[:, None, touched]
        return np.asarray((1.0 - self.chances[None, :, touched] * loss).prod(axis=2) @ self.weight)

    def marginal(self) -> Floats:
        """Return the probability of each fault, shape (faults,)."""
        return np.asarray(self.weight @ self.chances)


def as_independent(chances: Sequence[float] | Floats) -> Belief:
    """Return the belief in which faults of the given probabilities are independent."""
    return Belief(np.ones(1), np.asarray(chances, dtype=float)[None])


def as_one_cause(chances: Sequence[float] | Floats) -> Belief:
    """Return the belief in at most one fault; what is missing to 1 is no fault at all."""
    given = np.asarray(chances, dtype=float)
    rest = max(0.0, 1.0 - float(given.sum()))
    return Belief(np.append(given, rest), np.vstack((np.eye(len(given)), np.zeros(len(given)))))


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """The exact belief after the evidence and what was learned since.

    It is a sum of terms. An absence multiplies the faults of every term; a presence is "all that
    was" less "all that was and absent", so it doubles the terms.

    Parameters
    ----------
    posterior : Posterior
        Of the evidence.
    scale : array, shape (terms,)
        Factor of each term; some are below 0. They sum, over what the terms hold, to 1.
    factor : array, shape (terms, faults)
        Further likelihood of each fault.
    """

    posterior: Posterior
    scale: Floats
    factor: Floats

    @classmethod
    def of(cls, posterior: Posterior) -> "Joint":
        """Return the belief after the evidence alone."""
        return cls(posterior, np.ones(1), np.ones((1, len(posterior.chances))))

    def failing(self, rest: Floats) -> Floats:
        """Return the probability that nothing changed; see `Failing`."""
        if not len(rest):
            return np.zeros(0)
        return np.clip(self.scale @ self._totals(rest), 0.0, 1.0)

    def thinned(self, rest: Floats, leak: float = 0.0) -> tuple[float, "Joint"]:
        """Return how probable an absence is, and the belief after it.

        Parameters
        ----------
        rest : array, shape (faults,)
            1 - cure when a remedy changed nothing, 1 - link when a finding is absent.
        leak : float
            Of the finding.
        """
        scale, factor = self.scale * (1.0 - leak), self.factor * rest
        chance = (1.0 - leak) * float(self.failing(rest[None])[0])
        return chance, Joint(self.posterior, scale / max(chance, _TINY), factor)

    def answered(self, rest: Floats, leak: float) -> tuple[float, "Joint", "Joint"]:
        """Return how probable a finding is, and the belief after its presence and its absence.

        Parameters
        ----------
        rest : array, shape (faults,)
            1 - link of the finding.
        leak : float
        """
        absent, if_absent = self.thinned(rest, leak)
        chance = 1.0 - absent
        scale = np.concatenate((self.scale, -if_absent.scale * absent)) / max(chance, _TINY)
        factor = np.concatenate((self.factor, if_absent.factor))
        return chance, Joint(self.posterior, scale, factor), if_absent

    def split(self, *, most: int = MOST_PARTS) -> Belief:
        """Return the mixture to search with, of at most `most` + 1 parts."""
        before = np.array(list(self.posterior.chances.values()))
        # Which faults get a part only decides how much dependence the mixture keeps.
        hint = before * np.abs(self.scale @ self.factor)
        order = np.argsort(-hint, kind="stable")[:most]
        likely = order[before[order] >= LEAST_PART]
        # Row j: the first j of them are not there. Neighbours differ by "the j-th is there".
        rest = np.ones((len(likely) + 1, len(before)))
        for at, fault in enumerate(likely):
            rest[at + 1 :, fault] = 0.0
        total, joint = self._sum(rest)
        total[:-1] -= total[1:]
        joint[:-1] -= joint[1:]
        weight = np.maximum(total, 0.0)
        chances = np.clip(joint / np.maximum(weight, _TINY)[:, None], 0.0, 1.0)
        chances[range(len(likely)), likely] = 1.0
        chances[chances < NEGLIGIBLE] = 0.0
        return Belief(weight / weight.sum(), chances)

    def _columns(self, rest: Floats) -> Floats:
        """Return the factors of every row in every term, shape (faults, terms · rows)."""
        return (self.factor[:, None] * rest[None]).reshape(-1, rest.shape[1]).T

    def _totals(self, rest: Floats) -> Floats:
        """Return the probability of each row in each term, shape (terms, rows)."""
        columns = self._columns(rest)
        total = np.zeros(columns.shape[1])
        for hypothesis in self.posterior.hypotheses:
            total += np.exp(hypothesis.log_totals(columns) - self.posterior.log_evidence)
        return total.reshape(len(self.scale), -1)

    def _sum(self, rest: Floats) -> tuple[Floats, Floats]:
        """Return the probability of each row, and jointly with it that of each fault.

        Returns
        -------
        total : array, shape (rows,)
        joint : array, shape (rows, faults)
        """
        columns = self._columns(rest)
        total = np.zeros(columns.shape[1])
        joint = np.zeros(columns.shape)
        for hypothesis in self.posterior.hypotheses:
            log_total, marginal = hypothesis.sum(columns)
            part = np.exp(log_total - self.posterior.log_evidence)
            total += part
            joint += part * np.where(part > 0.0, marginal, 0.0)
        terms = len(self.scale)
        by_row = self.scale @ total.reshape(terms, -1)
        by_fault = np.tensordot(self.scale, joint.T.reshape(terms, len(rest), -1), axes=1)
        return by_row, by_fault
