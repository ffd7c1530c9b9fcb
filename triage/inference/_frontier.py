"""The sum over all sets of faults, one fault at a time and without a subtraction.

The state is a vector over sets of bits: how probable it is that exactly these findings have
been *explained* (made present by the leak or by a fault) so far. A fault with prior p and
weight w turns it into (1 - p)·state + p·w·spread(state), where spread moves, for each linked bit,
the share `link` from "not explained" to "explained". Only non-negative numbers are added and
multiplied, so nothing cancels and the result is good to about 1e-14 however many findings are
present; inclusion-exclusion over the findings loses all digits near fifteen of them.

A bit *opens* before its first fault and *closes*, with its likelihood pair, after its last, so
that the vector has 2^frontier entries rather than 2^bits.

Arrays are (states, batch): the batch axis holds variants of the case that differ in the
priors and weights of the faults and in the likelihood pairs of the bits.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from triage.knowledge._model import Floats

TINY = float(np.finfo(float).tiny)  # divides what is 0 without a warning
Number = float | Floats  # the same for all columns, or shape (batch,)


@dataclass(frozen=True, slots=True)
class Open:
    """Start to keep track of a bit; it becomes the leading axis."""

    bit: int


@dataclass(frozen=True, slots=True)
class Absorb:
    """Bring in a fault. `links` pairs the axis of each linked bit with its link."""

    fault: int
    links: tuple[tuple[int, float], ...]


@dataclass(frozen=True, slots=True)
class Close:
    """Forget a bit, at the given axis."""

    bit: int
    axis: int


@dataclass(frozen=True, slots=True)
class Plan:
    """The steps, and the bits open at the first of the moments when most are."""

    steps: tuple[Open | Absorb | Close, ...]
    widest: frozenset[int]

    @property
    def width(self) -> int:
        """The largest number of bits open at once."""
        return len(self.widest)


def make_plan(link: Floats, *, first: int | None = None) -> Plan:
    """Return an order that keeps the frontier narrow.

    The bit closed next is the one whose remaining faults open the fewest new bits; among
    equals the one with the fewest faults left, then the first.

    Parameters
    ----------
    link : array, shape (faults, bits)
        Every fault and every bit has a link that is not 0.
    first : int or None
        The bit to close first instead.

    Returns
    -------
    Plan
    """
    values = link.tolist()
    masks = [sum(1 << at for at, value in enumerate(row) if value > 0.0) for row in values]
    left = {bit: np.flatnonzero(column > 0.0).tolist() for bit, column in enumerate(link.T)}
    reach = {bit: _union(masks, faults) for bit, faults in left.items()}
    steps: list[Open | Absorb | Close] = []
    axes: list[int] = []
    widest: frozenset[int] = frozenset()
    opened = 0
    while left:
        bit = first if first in left else min(left, key=lambda bit: _cost(bit, left, reach, opened))
        faults = set(left[bit])
        order = sorted(faults, key=lambda fault: ((masks[fault] & ~opened).bit_count(), fault))
        for fault in order:
            mask = masks[fault]
            for new in _bits(mask & ~opened):
                steps.append(Open(new))
                axes.insert(0, new)
            opened |= mask
            if len(axes) > len(widest):
                widest = frozenset(axes)
            row = values[fault]
            steps.append(Absorb(fault, tuple((axes.index(at), row[at]) for at in _bits(mask))))
        for at in _bits(reach[bit]):
            left[at] = [fault for fault in left[at] if fault not in faults]
            reach[at] = _union(masks, left[at])
        for at in [at for at in axes if not left[at]]:
            steps.append(Close(at, axes.index(at)))
            axes.remove(at)
            del left[at]
    return Plan(tuple(steps), widest)


def _cost(
    bit: int, left: dict[int, list[int]], reach: dict[int, int], opened: int
) -> tuple[int, int, int]:
    """Return how many bits closing `bit` would open, how many faults it needs, and its number."""
    return (reach[bit] & ~opened).bit_count(), len(left[bit]), bit


def _union(masks: list[int], faults: list[int]) -> int:
    """Return the bits any of the faults is linked to."""
    union = 0
    for fault in faults:
        union |= masks[fault]
    return union


def _bits(mask: int) -> list[int]:
    """Return the numbers of the bits set in a mask, lowest first."""
    found = []
    while mask:
        found.append((mask & -mask).bit_length() - 1)
        mask &= mask - 1
    return found


@dataclass(frozen=True, slots=True, eq=False)
class Sums:
    """Outcome of the sum.

    `log_total`, shape (batch,): logarithm of the probability of the evidence.
    `marginal`, shape (faults, batch): posterior of each fault.
    """

    log_total: Floats
    marginal: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Terms:
    """The numbers of a sum, apart from its order.

    `prior`, shape (faults, 1 or batch). `weight`, shape (faults, batch), is the likelihood of
    the sure absences given the fault. `leak` has one number for each bit. `pair`, shape
    (bits, 2, 1 or batch), holds the likelihood if present and if absent.
    """

    prior: Floats
    weight: Floats
    leak: Sequence[float]
    pair: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Moment:
    """A step of the sum seen from both sides.

    Shapes are (states, batch): `state` and `before` belong to the moment before the step,
    `after` to the moment after it. `whole`, shape (batch,), is the sum over states of `state`
    times `before`: but for a factor, the probability of the evidence. `gathered` is the part of
    `before` in which the fault is there; all of it where the step is no fault.
    """

    step: Open | Absorb
    state: Floats
    before: Floats
    after: Floats
    gathered: Floats
    whole: Floats


def sum_over_faults(plan: Plan, terms: Terms) -> Sums:
    """Return the probability of the evidence and the posterior of each fault.

    Parameters
    ----------
    plan : Plan
    terms : Terms

    Returns
    -------
    Sums
        `log_total` is -inf, and `marginal` NaN, where the evidence is impossible.
    """
    log_total, states = look_ahead(plan, terms)
    marginal = np.zeros(terms.weight.shape)
    with np.errstate(invalid="ignore"):
        for moment in look_back(plan, terms, states):
            if isinstance(moment.step, Absorb):
                there = (moment.state * moment.gathered).sum(axis=0)
                marginal[moment.step.fault] = there / moment.whole
    return Sums(log_total, marginal)


def look_ahead(plan: Plan, terms: Terms) -> tuple[Floats, list[Floats]]:
    """Return the logarithm of the sum, shape (batch,), and the state before each fault."""
    share = terms.prior * terms.weight
    spared = _plain(1.0 - terms.prior)
    pair = _plain(terms.pair)
    state = np.ones((1, share.shape[1]))
    states: list[Floats] = []
    tops: list[Floats] = []
    for step in plan.steps:
        if isinstance(step, Absorb):
            states.append(state)
            moved = spread(state, step.links)
            moved *= share[step.fault]
            state = state * spared[step.fault]
            state += moved
        elif isinstance(step, Open):
            leak = terms.leak[step.bit]
            state = np.concatenate((state * (1.0 - leak), state * leak))
        else:
            state = _close(state, step.axis, *pair[step.bit])
            tops.append(state.max(axis=0))
            state = state / np.maximum(tops[-1], TINY)
    with np.errstate(divide="ignore"):
        return np.log([*tops, state[0]]).sum(axis=0), states


def look_back(plan: Plan, terms: Terms, states: list[Floats]) -> Iterator[Moment]:
    """Yield the faults and the openings in reverse; `states` is used up."""
    share = terms.prior * terms.weight
    spared = _plain(1.0 - terms.prior)
    pair = _plain(terms.pair)
    state = after = np.ones((1, share.shape[1]))
    whole = after[0]
    is_stale = True  # whether a closing has changed `whole`
    for step in reversed(plan.steps):
        if isinstance(step, Absorb):
            gathered = gather(after, step.links)
            gathered *= share[step.fault]
            before = after * spared[step.fault]
            before += gathered
            state = states.pop()
            if is_stale:
                whole, is_stale = (state * before).sum(axis=0), False
            yield Moment(step, state, before, after, gathered, whole)
        elif isinstance(step, Open):
            half = after.shape[0] // 2
            leak = terms.leak[step.bit]
            before = after[:half] * (1.0 - leak) + after[half:] * leak
            # Nothing is kept for it: a fault follows, and its state is this one, split in two.
            state = state[:half] + state[half:]
            yield Moment(step, state, before, after, before, whole)
        else:
            before = _reopen(after, step.axis, *pair[step.bit])
            before /= before.max()
            is_stale = True
        after = before


def spread(state: Floats, links: tuple[tuple[int, float], ...]) -> Floats:
    """Return the state after the fault has explained its bits."""
    moved = state.copy()
    for axis, link in links:
        halves = moved.reshape(1 << axis, 2, -1)
        halves[:, 1] += halves[:, 0] * link
        halves[:, 0] *= 1.0 - link
    return moved


def gather(after: Floats, links: tuple[tuple[int, float], ...]) -> Floats:
    """Return the transpose of `spread` applied to what comes after."""
    gathered = after.copy()
    for axis, link in links:
        halves = gathered.reshape(1 << axis, 2, -1)
        halves[:, 0] *= 1.0 - link
        halves[:, 0] += halves[:, 1] * link
    return gathered


def _plain(values: Floats) -> Any:
    """Return numbers for what all columns share: NumPy multiplies by them sooner than by rows."""
    return values[..., 0].tolist() if values.shape[-1] == 1 else values


def _close(state: Floats, axis: int, if_present: Number, if_absent: Number) -> Floats:
    """Return the state without a bit, weighed with its likelihood pair."""
    batch = state.shape[1]
    halves = state.reshape(1 << axis, 2, -1, batch)
    closed = halves[:, 1] * if_present
    closed += halves[:, 0] * if_absent
    return closed.reshape(-1, batch)


def _reopen(after: Floats, axis: int, if_present: Number, if_absent: Number) -> Floats:
    """Return the transpose of `_close` applied to what comes after."""
    batch = after.shape[1]
    halves = np.empty((1 << axis, 2, after.shape[0] >> axis, batch))
    kept = after.reshape(1 << axis, -1, batch)
    halves[:, 0] = kept * if_absent
    halves[:, 1] = kept * if_present
    return halves.reshape(-1, batch)
