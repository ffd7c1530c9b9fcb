"""Who gets the credit: from lessons to counts, by expectation and maximisation.

What fired is hidden. A finding that is present with two confirmed faults may have been made so by
the link of either, by both, or by the leak. Each round shares the observations by what they would
be expected to be under the numbers so far (expectation), then sets every number to the mean of
its Beta distribution after these shares (maximisation), until nothing moves.

* Link i of a present finding fired with probability link_i / P(present | confirmed faults); the
  same for the leak. Where the finding is absent, none of them fired.
* A verdict names what mattered most, so other faults may be there unnamed. They take their part
  of the credit of a present finding, each as often as the expert's prior has it; without them
  the leaks of a clinic that overlooks second faults rise until every suspicion is pale.
* A remedy that was tried is a finding "it got better" whose links are the cure rates and whose
  leak is `LUCK`, as in inference; luck is not learned.

Priors need no sharing, but a risk of odds ratio r makes a fault likelier without changing its
prior: the most probable prior is that of a logistic regression with offset log r, and its tally
is the one that gives this prior without risks.

Source: [dempster1977] for the method, [diez1993] for leaks kept apart from links.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
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
TINY = 1e-300  # stands for 0 where a ratio would be 0/0
ALMOST_0 = 1e-9  # where the log odds of a prior of 0 stand; such a prior is not learned


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
    tallies = _settle_priors(_ExpertNumbers.of(priors), contexts)
    tallies |= _settle_fired(_ExpertNumbers.of(fired, constants=(LUCK, 0.0)), looks)
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

    def tallies(self, won: Floats, lost: Floats) -> dict[Number, Tally]:
        """Return the counts of the numbers that can move and of which something was seen."""
        moves = (self.least < self.most) & (won + lost > 0.0)
        return {
            number: Tally(float(won[at]), float(lost[at]))
            for at, number in enumerate(self.numbers)
            if moves[at]
        }


def _stated_row(number: Number, stated: Stated) -> tuple[float, ...]:
    """Return value, expert's successes and failures, least and greatest value of a number."""
    if not stated.is_learnable:
        return _constant_row(stated.value)
    beta = expert_beta(stated.value, stated.source)
    return (stated.value, beta.successes, beta.failures, *bounds_of(number, stated))


def _constant_row(value: float) -> tuple[float, ...]:
    """Return the same for a value that nothing moves."""
    return (value, value, 1.0 - value, value, value)


def _settle_fired(expert: _ExpertNumbers, looks: "_Looks") -> dict[Number, Tally]:
    """Return the expected counts of the numbers once expectation and maximisation agree.

    The counts are those the last values were made of, so that `revise` gives these values.
    """
    value = expert.value
    moved = math.inf
    while moved >= SETTLED:
        won, lost = looks.expect(value)
        total = expert.successes + expert.failures + won + lost
        new = np.clip((expert.successes + won) / total, expert.least, expert.most)
        moved = np.abs(new - value).max(initial=0.0)
        value = new
    return expert.tallies(won, lost)


def _settle_priors(expert: _ExpertNumbers, contexts: "_Contexts") -> dict[Number, Tally]:
    """Return the counts that give each prior its most probable value.

    Newton's method on the log odds, on which the density is concave. Over a step of at most 1 the
    curvature changes by less than a factor e, so that every step raises the density.
    """
    pseudo = expert.successes + expert.failures
    seen = contexts.shown + contexts.hidden
    start = np.clip(expert.value, ALMOST_0, 1.0 - ALMOST_0)
    log_odds = np.log(start / (1.0 - start))
    moves = expert.least < expert.most
    moved = math.inf
    while moved >= SETTLED:
        value = 1.0 / (1.0 + np.exp(-log_odds))
        shifted = value * contexts.ratio / (1.0 - value + value * contexts.ratio)
        slope = (contexts.shown - seen * shifted).sum(axis=0) + expert.successes - pseudo * value
        bend = (seen * shifted * (1.0 - shifted)).sum(axis=0) + pseudo * value * (1.0 - value)
        step = np.where(moves, np.clip(slope / np.maximum(bend, TINY), -1.0, 1.0), 0.0)
        log_odds = log_odds + step
        moved = np.abs(step).max(initial=0.0)
    return expert.tallies(*_plain_counts(expert, contexts, 1.0 / (1.0 + np.exp(-log_odds))))


def _plain_counts(
    expert: _ExpertNumbers, contexts: "_Contexts", value: Floats
) -> tuple[Floats, Floats]:
    """Return the counts that would give the priors these values if no risk had held."""
    shown, hidden = contexts.shown.sum(axis=0), contexts.hidden.sum(axis=0)
    # As many looks as there were lessons; more where a risk made a verdict tell more than a look.
    total = expert.successes + expert.failures + shown + hidden
    total = np.maximum(total, expert.successes / value)
    total = np.maximum(total, expert.failures / (1.0 - value))
    won = np.maximum(total * value - expert.successes, 0.0)
    lost = np.maximum(total * (1.0 - value) - expert.failures, 0.0)
    shifts = (contexts.ratio != 1.0) & (contexts.shown + contexts.hidden > 0.0)
    is_plain = ~shifts.any(axis=0)
    return np.where(is_plain, shown, won), np.where(is_plain, hidden, lost)


@dataclass(frozen=True, slots=True, eq=False)
class _Looks:
    """Findings looked for and remedies tried, one row each.

    `members`, shape (rows, most), holds the places of the numbers that could have fired, filled
    up with the place of the constant 0; `so` whether one did; `weight` how much the row counts;
    `unnamed` the probability that a fault the verdict does not name made it so.
    """

    members: NDArray[np.intp]
    so: Bools
    weight: Floats
    unnamed: Floats
    count: int

    def expect(self, value: Floats) -> tuple[Floats, Floats]:
        """Return how often each number is expected to have fired and not to have fired."""
        chance = value[self.members]
        happens = 1.0 - (1.0 - self.unnamed) * (1.0 - chance).prod(axis=1)
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
    unnamed: list[float] = []
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
        unnamed += [*_chance_unnamed(knowledge, lesson), *(0.0 for _ in lesson.remedies)]
    members = np.full((len(rows), max(map(len, rows), default=1)), never)
    for place, row in enumerate(rows):
        members[place, : len(row)] = row
    return _Looks(members, np.array(so, dtype=bool), np.array(weight), np.array(unnamed), never + 1)


def _chance_unnamed(knowledge: Knowledge, lesson: Lesson) -> list[float]:
    """Return for each finding of a lesson whether a fault not named would make it present."""
    network = knowledge.network
    if lesson.process is None:
        return [0.0] * len(lesson.findings)
    prior = shifted_prior(knowledge, lesson.circumstances(), lesson.process)
    prior[[network.fault_at[fault] for fault in lesson.faults]] = 0.0
    rows = [network.finding_at[finding] for finding in lesson.findings]
    there = np.append(prior, 0.0)[network.causes.at[rows]]
    chances: list[float] = (1.0 - (1.0 - there * network.causes.value[rows]).prod(axis=1)).tolist()
    return chances


@dataclass(frozen=True, slots=True, eq=False)
class _Contexts:
    """Verdicts by the circumstances that shift priors. Arrays are (circumstances, faults).

    `shown` and `hidden` count the lessons with and without each fault, 0 where it cannot occur;
    `ratio` is the odds ratio of the circumstances.
    """

    shown: Floats
    hidden: Floats
    ratio: Floats


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
    ratio = odds / np.maximum(usual, TINY)
    ratio = np.where((prior > 0.0) & ~np.isclose(ratio, 1.0, rtol=1e-9), ratio, 1.0)
    return _Contexts(stacked[:, 0], stacked[:, 1], ratio)
