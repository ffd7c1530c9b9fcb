"""Search for the most probable sets of faults of one connected part of a case.

Sets are searched as a tree: a node has chosen some faults, ruled out others and left the rest
open. Two numbers bound every set below a node. The sum over all of them is one column of the
frontier sum. And what a further fault can add at most is known, because a finding that speaks
for faults gains less from a fault the more of them are there already. Nodes are opened by
falling bound until it is below the last set wanted; what was not opened holds no better set.
"""

import heapq
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from triage.inference._frontier import Plan, Terms, look_ahead, make_plan, sum_over_faults
from triage.inference._hypothesis import MOST_CELLS, Hypothesis
from triage.knowledge._model import Bools, Floats

# Numbers the search may go through, faults times states of the sums, before it gives up: about a
# second of one core [judgement: desk, 2026-11-25]
MOST_SUMMED = 1 << 27
_LIKELY = 0.5  # faults the climb starts from
ROUNDING = 1e-12  # relative; bounds nearer than this to a probability are equal to it


@dataclass(frozen=True, slots=True)
class Ranked:
    """Sets of fault numbers with their probabilities, best first; none left out beats `missed`."""

    sets: tuple[tuple[float, tuple[int, ...]], ...]
    missed: float

    @property
    def best(self) -> float:
        """No set, listed or not, is more probable than this."""
        return max(self.missed, self.sets[0][0] if self.sets else 0.0)

    @property
    def is_proven(self) -> bool:
        """Whether no set left out can be better than the last one listed."""
        return not self.sets or self.missed <= self.sets[-1][0] * (1.0 + ROUNDING)


def best_first(entry: tuple[float, tuple[int, ...]]) -> tuple[float, int, tuple[int, ...]]:
    """Return the key that puts the more probable set first, among equals the smaller one."""
    chance, faults = entry
    return -chance, len(faults), faults


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Some faults of a case and the bits they are linked to.

    `numbers`, `prior` and `weight` have shape (faults,); `link` (faults, bits); `leak` (bits,);
    `pair` (bits, 2).
    """

    numbers: NDArray[np.intp]
    prior: Floats
    weight: Floats
    link: Floats
    leak: Floats
    pair: Floats

    @classmethod
    def of(cls, hypothesis: Hypothesis, numbers: NDArray[np.intp], bits: NDArray[np.intp]) -> Self:
        """Return the part with the faults of these numbers and the bits at these places."""
        case = hypothesis.case
        link = np.array([hypothesis.bits[at].link[numbers] for at in bits])
        return cls(
            numbers=numbers,
            prior=case.prior[numbers],
            weight=case.weight[numbers],
            link=link.reshape(len(bits), len(numbers)).T,
            leak=np.array([hypothesis.bits[at].leak for at in bits]),
            pair=hypothesis.pair[bits],
        )

    def reordered(self, order: NDArray[np.intp]) -> "Part":
        """Return the same part with its faults in another order."""
        return Part(
            self.numbers[order],
            self.prior[order],
            self.weight[order],
            self.link[order],
            self.leak,
            self.pair,
        )

    def log_sets(self, chosen: Bools) -> Floats:
        """Return log P(exactly the chosen faults, evidence) of each row of (rows, faults)."""
        there = np.where(chosen, self.prior * self.weight, 1.0 - self.prior)
        absent = self._absent(chosen)
        likelihood = self.pair[:, 0] * (1.0 - absent) + self.pair[:, 1] * absent
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(there).sum(axis=1) + np.log(likelihood).sum(axis=1))

    def log_gains(self, chosen: Bools) -> Floats:
        """Return how much each further fault can raise `log_sets` at most, shape (rows, faults).

        What a fault adds to the chosen ones bounds what it adds to any more of them where a bit
        speaks for faults; a bit that speaks against them gains nothing.
        """
        absent = self._absent(chosen)
        rise = self.pair[:, 0] - self.pair[:, 1]
        with np.errstate(divide="ignore", invalid="ignore"):
            # Two likelihoods of 0 make NaN: the set is impossible, and `_bounds` asks no more.
            slope = np.maximum(rise, 0.0) * absent / (self.pair[:, 0] - rise * absent)
            odds = np.log(self.prior * self.weight) - np.log(1.0 - self.prior)
            return np.asarray(odds + np.log1p(slope[:, None, :] * self.link).sum(axis=2))

    def log_sums(self, plan: Plan, chosen: Bools, ruled_out: Bools) -> Floats:
        """Return log P(the chosen there, the ruled out not, evidence) of each row."""
        columns = max(1, MOST_CELLS >> plan.width)
        sums = []
        for start in range(0, len(chosen), columns):
            there, gone = chosen[start : start + columns].T, ruled_out[start : start + columns].T
            prior = np.where(there, 1.0, np.where(gone, 0.0, self.prior[:, None]))
            weight = np.broadcast_to(self.weight[:, None], prior.shape)
            terms = Terms(prior, weight, self.leak.tolist(), self.pair[:, :, None])
            decided = np.where(gone, 1.0 - self.prior[:, None], 1.0)
            decided = np.where(there, self.prior[:, None], decided)
            with np.errstate(divide="ignore"):
                sums.append(look_ahead(plan, terms)[0] + np.log(decided).sum(axis=0))
        return np.concatenate(sums)

    def _absent(self, chosen: Bools) -> Floats:
        """Return P(finding absent | exactly the chosen faults), shape (rows, bits)."""
        kept = np.where(chosen[:, :, None], 1.0 - self.link, 1.0).prod(axis=1)
        return np.asarray(kept * (1.0 - self.leak))


class _Shortlist:
    """The best sets met so far, at most `limit`, each once."""

    def __init__(self, limit: int) -> None:
        self._limit = limit
        self._heap: list[tuple[float, tuple[int, ...]]] = []
        self._members: set[tuple[int, ...]] = set()

    @property
    def least(self) -> float:
        """What a set must surpass to get in."""
        return self._heap[0][0] if len(self._heap) == self._limit else 0.0

    def add(self, chosen: Bools, chances: Floats) -> None:
        """Take in the rows that are good enough."""
        for row in np.flatnonzero(chances > self.least):
            places = tuple(np.flatnonzero(chosen[row]).tolist())
            if places in self._members:
                continue
            self._members.add(places)
            heapq.heappush(self._heap, (float(chances[row]), places))
            if len(self._heap) > self._limit:
                self._members.remove(heapq.heappop(self._heap)[1])

    def list(self, numbers: NDArray[np.intp]) -> tuple[tuple[float, tuple[int, ...]], ...]:
        """Return the sets as numbers of faults, best first."""
        named = [
            (chance, tuple(sorted(numbers[list(places)].tolist()))) for chance, places in self._heap
        ]
        return tuple(sorted(named, key=best_first))


@dataclass(frozen=True, slots=True, order=True)
class _Node:
    """The faults at `chosen` are there, others before `start` are not, the rest is open.

    `bound` is minus what no set below can surpass, so that the heap gives the best node first.
    """

    bound: float
    chosen: tuple[int, ...]
    start: int


def rank_sets(part: Part, limit: int) -> Ranked:
    """Return the best sets of a connected part, with the bound of all others.

    Parameters
    ----------
    part : Part
        Every fault has a bit, every bit a fault, and the evidence is possible.
    limit : int
        Sets wanted.
    """
    terms = Terms(
        part.prior[:, None], part.weight[:, None], part.leak.tolist(), part.pair[:, :, None]
    )
    sums = sum_over_faults(make_plan(part.link), terms)
    alone = sums.marginal[:, 0]
    order = np.argsort(-alone, kind="stable")
    search = _Search(part.reordered(order), alone[order], float(sums.log_total[0]), limit)
    search.run()
    listed = search.shortlist.list(search.part.numbers)
    left_over = max(0.0, 1.0 - sum(chance for chance, _ in listed))
    unopened = -search.nodes[0].bound if search.nodes else 0.0
    return Ranked(listed, min(left_over, max(search.shortlist.least, unopened)))


class _Search:
    """The state of the search in one part; `alone` are the posteriors of its faults, falling."""

    def __init__(self, part: Part, alone: Floats, log_total: float, limit: int) -> None:
        self.part = part
        self.shortlist = _Shortlist(limit)
        self.nodes = [_Node(-1.0, (), 0)]
        self._alone = alone
        self._log_total = log_total
        self._plan = make_plan(part.link)
        self._summed = 0

    def run(self) -> None:
        """Open nodes until no better set can be left, or for as long as is reasonable."""
        nothing = np.zeros((1, len(self._alone)), dtype=bool)
        self.shortlist.add(nothing, self._chances(nothing))
        self._climb()
        while self.nodes and -self.nodes[0].bound > self.shortlist.least:
            if self._summed > MOST_SUMMED:
                return
            self._open(heapq.heappop(self.nodes))
        self.nodes.clear()

    def _chances(self, chosen: Bools) -> Floats:
        """Return the probability of each row being exactly the truth."""
        return np.asarray(np.exp(self.part.log_sets(chosen) - self._log_total))

    def _climb(self) -> None:
        """Take in good sets at once, so that poor nodes need not be opened.

        From the likely faults on, the best change of one fault is made as long as it helps.
        """
        chosen = self._alone > _LIKELY
        changes = np.eye(len(chosen) + 1, len(chosen), dtype=bool)
        while True:
            rows = chosen ^ changes
            chances = self._chances(rows)
            self.shortlist.add(rows, chances)
            best = int(chances.argmax())
            if chances[best] <= chances[-1]:
                return
            chosen = rows[best]

    def _open(self, node: _Node) -> None:
        """Choose each open fault in turn, those before it being ruled out."""
        places = np.arange(node.start, int((self._alone > self.shortlist.least).sum()))
        if not len(places):
            return
        there = np.zeros((len(places), len(self._alone)), dtype=bool)
        there[:, list(node.chosen)] = True
        there[places - node.start, places] = True
        chances = self._chances(there)
        self.shortlist.add(there, chances)
        bounds = self._bounds(there, places, chances)
        worth = np.flatnonzero(bounds > self.shortlist.least)
        if not len(worth):
            return
        there, places = there[worth], places[worth]
        ruled_out = (np.arange(len(self._alone)) < places[:, None]) & ~there
        self._summed += (len(worth) << self._plan.width) * len(self._alone)
        sums = np.exp(self.part.log_sums(self._plan, there, ruled_out) - self._log_total)
        bounds = np.minimum(bounds[worth], sums - chances[worth])
        for at, bound in zip(places.tolist(), bounds.tolist(), strict=True):
            if bound > self.shortlist.least:
                heapq.heappush(self.nodes, _Node(-bound, (*node.chosen, at), at + 1))

    def _bounds(self, there: Bools, places: NDArray[np.intp], chances: Floats) -> Floats:
        """Return what no set with more faults, all behind the place, can surpass."""
        behind = np.arange(there.shape[1]) > places[:, None]
        with np.errstate(over="ignore", invalid="ignore"):
            gains = np.where(behind, self.part.log_gains(there), -np.inf)
            most = np.maximum(gains, 0.0).sum(axis=1)
            most = np.where(most > 0.0, most, gains.max(axis=1))
            return np.where(chances > 0.0, np.minimum(chances * np.exp(most), 1.0), 1.0)
