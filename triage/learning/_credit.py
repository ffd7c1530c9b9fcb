"""Who gets the credit: from lessons to counts, by expectation and maximisation.

What fired is hidden. A finding that is present with two confirmed faults may have been made so by
the link of either, by both, or by the leak; a fault confirmed where a risk held may be there
because of the risk. Each round shares the observations by what they would be expected to be
under the numbers so far (expectation), then sets every number to the mean of its Beta
distribution after these shares (maximisation), until nothing moves.

* Link i of a present finding fired with probability link_i / P(present | confirmed faults); the
  same for the leak. Where the finding is absent, none of them fired.
* A remedy that was tried is a finding "it got better" whose links are the cure rates and whose
  leak is `LUCK`, as in inference; luck is not learned.
* A risk of odds ratio r shifts a prior p to q. Take the fault as there with and without the risk
  as often as they can agree: for r > 1 a fault that is there would be there without the risk
  with probability p / q; for r < 1 one that is not would be with (p - q) / (1 - q).

Source: [dempster1977] for the method, [diez1993] for leaks kept apart from links.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.inference import LUCK
from triage.inference._case import shifted_prior
from triage.knowledge import Knowledge
from triage.knowledge._model import Bools, Floats
from triage.learning._beta import expert_beta
from triage.learning._counts import Counts, Tally
from triage.learning._lessons import BASIS_WEIGHT, Lesson, sift_lessons
from triage.learning._numbers import Number, Stated, bounds_of, list_numbers
from triage.learning._revision import refuse_revision

SETTLED = 1e-6  # a round that moves no number by more is the last
MOST_ROUNDS = 500
TINY = 1e-300  # stands for 0 where a ratio would be 0/0

# Expected successes and failures of each number under some values of the numbers.
Expect = Callable[[Floats], tuple[Floats, Floats]]


def learn(
    knowledge: Knowledge,
    lessons: Iterable[Lesson],
    *,
    weights: Mapping[str, float] = BASIS_WEIGHT,
) -> Counts:
    """Return what lessons teach about the numbers of an expert's knowledge.

    Parameters
    ----------
    knowledge : Knowledge
        As the experts wrote it, not a revision.
    lessons : iterable of Lesson
        Their order does not matter. A finding that was not looked for teaches nothing, nor does
        a verdict that names no fault.
    weights : mapping of str to float, 0 or more
        How much a lesson of each basis counts; only simulations give other ones.

    Returns
    -------
    Counts
        Expected counts, with notes of what could not be used.

    Raises
    ------
    InputError
        If the knowledge is a revision: its lessons would count twice.
    """
    refuse_revision(knowledge)
    sifted = sift_lessons(knowledge, lessons)
    table = list_numbers(knowledge)
    priors = {number: stated for number, stated in table.items() if number.kind == "prior"}
    fired = {number: stated for number, stated in table.items() if number.kind != "prior"}
    contexts = _gather_contexts(knowledge, sifted.lessons, weights)
    looks = _gather_looks(knowledge, sifted.lessons, weights, list(fired))
    tallies = _settle(_ExpertNumbers.of(priors), contexts.expect)
    tallies |= _settle(_ExpertNumbers.of(fired, constants=(LUCK, 0.0)), looks.expect)
    return Counts(len(sifted.lessons), tallies, sifted.skipped)


@dataclass(frozen=True, slots=True, eq=False)
class _ExpertNumbers:
    """The expert's numbers as arrays of one entry each, constants last."""

    numbers: tuple[Number, ...]
    value: Floats
    successes: Floats
    failures: Floats
    least: Floats
    most: Floats

    @classmethod
    def of(
        cls, table: Mapping[Number, Stated], constants: Sequence[float] = ()
    ) -> "_ExpertNumbers":
        """Return the numbers of a table, with constants nothing can move behind them."""
        rows = [_stated_row(number, stated) for number, stated in table.items()]
        rows += [_constant_row(value) for value in constants]
        return cls(tuple(table), *np.array(rows).reshape(-1, 5).T)


def _stated_row(number: Number, stated: Stated) -> tuple[float, ...]:
    """Return value, expert's successes and failures, least and greatest value of a number."""
    if not stated.is_learnable:
        return _constant_row(stated.value)
    beta = expert_beta(stated.value, stated.source)
    return (stated.value, beta.successes, beta.failures, *bounds_of(number, stated))


def _constant_row(value: float) -> tuple[float, ...]:
    """Return the same for a value that nothing moves."""
    return (value, value, 1.0 - value, value, value)


def _settle(expert: _ExpertNumbers, expect: Expect) -> dict[Number, Tally]:
    """Return the expected counts of the numbers once expectation and maximisation agree.

    The counts are those the last values were made of, so that `revise` gives these values.
    """
    value = expert.value
    for _ in range(MOST_ROUNDS):
        won, lost = expect(value)
        looks = expert.successes + expert.failures + won + lost
        new = np.clip((expert.successes + won) / looks, expert.least, expert.most)
        moved = np.abs(new - value).max(initial=0.0)
        value = new
        if moved < SETTLED:
            break
    pairs = zip(expert.numbers, won.tolist(), lost.tolist(), strict=False)  # not the constants
    return {
        number: Tally(yes, no)
        for (number, yes, no), least, most in zip(pairs, expert.least, expert.most, strict=False)
        if yes + no > 0.0 and least < most
    }


@dataclass(frozen=True, slots=True, eq=False)
class _Looks:
    """Findings looked for and remedies tried, one row each.

    `members`, shape (rows, most), holds the places of the numbers that could have fired, filled
    up with the place of the constant 0; `so` whether one did; `weight` how much the row counts.
    """

    members: NDArray[np.intp]
    so: Bools
    weight: Floats
    count: int

    def expect(self, value: Floats) -> tuple[Floats, Floats]:
        """Return how often each number is expected to have fired and not to have fired."""
        chance = value[self.members]
        happens = 1.0 - (1.0 - chance).prod(axis=1)
        share = chance * (self.so * self.weight / np.maximum(happens, TINY))[:, None]
        total = np.broadcast_to(self.weight[:, None], self.members.shape)
        flat = self.members.ravel()
        won = np.bincount(flat, share.ravel(), minlength=self.count).astype(float)
        looks = np.bincount(flat, total.ravel(), minlength=self.count)
        return won, np.maximum(looks - won, 0.0)


def _gather_looks(
    knowledge: Knowledge,
    lessons: Sequence[Lesson],
    weights: Mapping[str, float],
    numbers: Sequence[Number],
) -> _Looks:
    """Return the rows of all lessons; the constants luck and 0 stand behind the numbers."""
    at = {(number.kind, *number.ids): place for place, number in enumerate(numbers)}
    luck, never = len(numbers), len(numbers) + 1
    rows: list[list[int]] = []
    so: list[bool] = []
    weight: list[float] = []
    for lesson in lessons:
        for finding, is_so in lesson.findings.items():
            keys = [("link", fault, finding) for fault in sorted(lesson.faults)]
            rows.append([at["leak", finding], *(at[key] for key in keys if key in at)])
            so.append(is_so)
        for action, cured in lesson.remedies.items():
            keys = [("cure", action, fault) for fault in sorted(lesson.faults)]
            rows.append([luck, *(at[key] for key in keys if key in at)])
            so.append(cured)
        weight += [weights[lesson.basis]] * (len(rows) - len(weight))
    members = np.full((len(rows), max(map(len, rows), default=1)), never)
    for place, row in enumerate(rows):
        members[place, : len(row)] = row
    return _Looks(members, np.array(so, dtype=bool), np.array(weight), never + 1)


@dataclass(frozen=True, slots=True, eq=False)
class _Contexts:
    """Verdicts by the circumstances that shift priors. Arrays are (circumstances, faults).

    `shown` and `hidden` count the lessons with and without each fault, 0 where it cannot occur;
    `ratio` is the odds ratio of the circumstances.
    """

    shown: Floats
    hidden: Floats
    ratio: Floats

    def expect(self, value: Floats) -> tuple[Floats, Floats]:
        """Return how often each fault would have been there, and not, without the risks."""
        shifted = value * self.ratio / (1.0 - value + value * self.ratio)
        of_shown = np.minimum(value, shifted) / np.maximum(shifted, TINY)
        of_hidden = np.maximum(value - shifted, 0.0) / np.maximum(1.0 - shifted, TINY)
        won = (self.shown * of_shown + self.hidden * of_hidden).sum(axis=0)
        return won, np.maximum((self.shown + self.hidden).sum(axis=0) - won, 0.0)


def _gather_contexts(
    knowledge: Knowledge, lessons: Sequence[Lesson], weights: Mapping[str, float]
) -> _Contexts:
    """Return the verdicts of all lessons of a known process, by their circumstances."""
    network = knowledge.network
    count = len(network.fault_ids)
    tables: dict[tuple[object, ...], tuple[Floats, Floats, Floats]] = {}
    for lesson in lessons:
        if lesson.process is None:
            continue
        key = (lesson.process, lesson.material, lesson.machine, frozenset(lesson.risks))
        if key not in tables:
            prior = shifted_prior(knowledge, lesson.circumstances(), lesson.process)
            tables[key] = (np.zeros(count), np.zeros(count), prior)
        shown, hidden, prior = tables[key]
        has = np.zeros(count, dtype=bool)
        has[[network.fault_at[fault] for fault in lesson.faults]] = True
        shown += weights[lesson.basis] * has
        hidden += weights[lesson.basis] * (~has & (prior > 0.0))
    stacked = np.array(list(tables.values())).reshape(-1, 3, count)
    prior = stacked[:, 2]
    odds = prior / np.maximum(1.0 - prior, TINY)
    usual = network.prior / np.maximum(1.0 - network.prior, TINY)
    ratio = np.where(prior > 0.0, odds / np.maximum(usual, TINY), 1.0)
    return _Contexts(stacked[:, 0], stacked[:, 1], ratio)
