"""The most probable sets of faults that together explain a case, best first and proven so.

Faults that share no finding do not need each other: each connected part of the network is
searched alone, and the best sets of the whole are products of the best sets of the parts.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.errors import OutOfRangeError
from triage.inference._hypothesis import Hypothesis
from triage.inference._posterior import Posterior
from triage.inference._search import ROUNDING, Part, Ranked, best_first, rank_sets
from triage.knowledge import Knowledge

MOST_SETS = 100  # more are no help to anybody [judgement: desk, 2026-11-25]


@dataclass(frozen=True, slots=True)
class FaultSet:
    """Exactly these faults and no other, in the order of the knowledge, and how probable."""

    faults: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class FaultSets:
    """The most probable sets of faults under the evidence a posterior took into account.

    Parameters
    ----------
    sets : tuple of FaultSet
        Best first; the empty set is "no modelled fault". Sets of probability 0 are not listed.
    covered : float
        Probability that one of the listed sets is the truth.
    no_fault : float
        Probability of no modelled fault, listed or not.
    missed : float
        No set that is not listed is more probable than this.
    """

    sets: tuple[FaultSet, ...]
    covered: float
    no_fault: float
    missed: float

    @property
    def is_proven(self) -> bool:
        """Whether the sets listed are surely the most probable ones."""
        return not self.sets or self.missed <= self.sets[-1].probability * (1.0 + ROUNDING)


def list_explanations(knowledge: Knowledge, posterior: Posterior, *, limit: int = 5) -> FaultSets:
    """Return the most probable sets of faults: which are to blame together.

    Parameters
    ----------
    knowledge : Knowledge
        The one the posterior was computed with.
    posterior : Posterior
        Of the evidence; what it dropped does not count here either.
    limit : int, 1 to `MOST_SETS`
        Sets wanted.

    Returns
    -------
    FaultSets
        Probabilities are exact to rounding; `FaultSets.missed` bounds every other set.

    Raises
    ------
    OutOfRangeError
        If `limit` is out of its range.
    """
    if not 1 <= limit <= MOST_SETS:
        msg = f"{limit} sets of faults wanted; the limit is 1 to {MOST_SETS}"
        raise OutOfRangeError(msg)
    hypotheses = [
        hypothesis
        for hypothesis in posterior.hypotheses
        if posterior.processes[hypothesis.process] > 0.0
    ]
    ranked = _rank(hypotheses, posterior, limit)
    sets = tuple(
        FaultSet(tuple(knowledge.network.fault_ids[at] for at in faults), chance)
        for chance, faults in ranked.sets
    )
    return FaultSets(
        sets=sets,
        covered=min(1.0, sum(entry.probability for entry in sets)),
        no_fault=_chance(hypotheses, posterior, ()),
        missed=ranked.missed,
    )


def _rank(hypotheses: list[Hypothesis], posterior: Posterior, limit: int) -> Ranked:
    """Return the best sets over all processes.

    A set listed under no process cannot be more probable than the bounds of all processes
    together, so the lists are made longer until that is below the last set wanted.
    """
    wanted = limit
    while True:
        lists = [_rank_process(h, posterior.processes[h.process], wanted) for h in hypotheses]
        if len(lists) == 1:
            return lists[0]
        found = {faults for ranked in lists for _, faults in ranked.sets}
        mixed = [(_chance(hypotheses, posterior, faults), faults) for faults in found]
        mixed.sort(key=best_first)
        unlisted = sum(ranked.missed for ranked in lists)
        beyond = [chance for chance, _ in mixed[limit : limit + 1]]
        merged = Ranked(tuple(mixed[:limit]), max([unlisted, *beyond]))
        may_help = wanted < MOST_SETS and all(ranked.is_proven for ranked in lists)
        if merged.is_proven or not may_help:
            return merged
        wanted = min(MOST_SETS, 2 * wanted)


def _chance(hypotheses: list[Hypothesis], posterior: Posterior, faults: tuple[int, ...]) -> float:
    """Return the posterior of exactly these faults, over all processes."""
    total = 0.0
    for hypothesis in hypotheses:
        count = len(hypothesis.case.prior)
        chosen = np.zeros((1, count), dtype=bool)
        chosen[0, list(faults)] = True
        whole = Part.of(hypothesis, np.arange(count), np.arange(len(hypothesis.bits)))
        log_chance = whole.log_sets(chosen)[0] + hypothesis.log_prior + hypothesis.log_constant
        total += float(np.exp(log_chance - posterior.log_evidence))
    return total


def _rank_process(hypothesis: Hypothesis, share: float, limit: int) -> Ranked:
    """Return the best sets under one process, whose own probability is `share`."""
    prior, weight = hypothesis.case.prior, hypothesis.case.weight
    ranked = Ranked(((share, ()),), 0.0)
    for fault in hypothesis.free.tolist():
        there = prior[fault] * weight[fault]
        chance = float(there / (there + 1.0 - prior[fault]))
        alone = sorted(((1.0 - chance, ()), (chance, (fault,))), key=best_first)
        ranked = _join(ranked, Ranked(tuple(alone), 0.0), limit)
    for numbers, bits in _split(hypothesis):
        ranked = _join(ranked, rank_sets(Part.of(hypothesis, numbers, bits), limit), limit)
    return ranked


def _join(one: Ranked, other: Ranked, limit: int) -> Ranked:
    """Return the best sets of two parts that do not need each other."""
    products = [
        (mine * theirs, tuple(sorted((*these, *those))))
        for mine, these in one.sets
        for theirs, those in other.sets
        if mine * theirs > 0.0
    ]
    products.sort(key=best_first)
    beyond = [chance for chance, _ in products[limit : limit + 1]]
    missed = max([one.missed * other.best, one.best * other.missed, *beyond])
    return Ranked(tuple(products[:limit]), missed)


def _split(hypothesis: Hypothesis) -> Iterator[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Yield the connected parts: the numbers of their faults and the places of their bits."""
    active = hypothesis.active
    touches = np.array([bit.link[active] > 0.0 for bit in hypothesis.bits], dtype=bool)
    touches = touches.reshape(len(hypothesis.bits), len(active)).T
    left = np.ones(len(active), dtype=bool)
    while left.any():
        inside = np.arange(len(left)) == left.argmax()
        bits = touches[inside].any(axis=0)
        while (touches[:, bits].any(axis=1) & ~inside).any():
            inside = np.asarray(touches[:, bits].any(axis=1))
            bits = touches[inside].any(axis=0)
        left &= ~inside
        yield active[inside], np.flatnonzero(bits)
