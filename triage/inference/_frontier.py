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
weights of the faults only.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triage.knowledge._model import Floats


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
    """The steps, and the largest number of bits open at once."""

    steps: tuple[Open | Absorb | Close, ...]
    width: int


def make_plan(link: Floats) -> Plan:
    """Return an order that keeps the frontier narrow.

    The bit closed next is the one whose remaining faults open the fewest new bits; among
    equals the one with the fewest faults left, then the first.

    Parameters
    ----------
    link : array, shape (faults, bits)
        Every fault and every bit has a link that is not 0.

    Returns
    -------
    Plan
    """
    touched = [int(mask) for mask in (link > 0.0) @ (1 << np.arange(link.shape[1]))]
    left = dict(enumerate(touched))
    steps: list[Open | Absorb | Close] = []
    axes: list[int] = []
    opened = 0
    width = 0
    waiting = set(range(link.shape[1]))
    while waiting:
        bit = min(waiting, key=lambda bit: _cost(bit, left, opened))
        faults = [fault for fault, mask in left.items() if mask >> bit & 1]
        faults.sort(key=lambda fault: ((left[fault] & ~opened).bit_count(), fault))
        for fault in faults:
            mask = left.pop(fault)
            for new in _bits(mask & ~opened):
                steps.append(Open(new))
                axes.insert(0, new)
            opened |= mask
            width = max(width, len(axes))
            row = link[fault]
            steps.append(
                Absorb(fault, tuple((axes.index(at), float(row[at])) for at in _bits(mask)))
            )
        done = [at for at in axes if not any(mask >> at & 1 for mask in left.values())]
        for at in done:
            steps.append(Close(at, axes.index(at)))
            axes.remove(at)
            waiting.remove(at)
    return Plan(tuple(steps), width)


def _cost(bit: int, left: dict[int, int], opened: int) -> tuple[int, int, int]:
    """Return how many bits closing `bit` would open, how many faults it needs, and its number."""
    union = 0
    count = 0
    for mask in left.values():
        if mask >> bit & 1:
            union |= mask
            count += 1
    return (union & ~opened).bit_count(), count, bit


def _bits(mask: int) -> list[int]:
    """Return the numbers of the bits set in a mask, lowest first."""
    return [at for at in range(mask.bit_length()) if mask >> at & 1]


@dataclass(frozen=True, slots=True, eq=False)
class Sums:
    """Outcome of the sum.

    `log_total`, shape (batch,): logarithm of the probability of the evidence.
    `marginal`, shape (faults, batch): posterior of each fault.
    """

    log_total: Floats
    marginal: Floats


def sum_over_faults(
    plan: Plan,
    prior: Floats,
    weight: Floats,
    leak: Sequence[float],
    pairs: Sequence[tuple[float, float]],
) -> Sums:
    """Return the probability of the evidence and the posterior of each fault.

    Parameters
    ----------
    plan : Plan
    prior : array, shape (faults,)
    weight : array, shape (faults, batch)
        Likelihood of the sure absences given the fault.
    leak : sequence of float, shape (bits,)
    pairs : sequence of (float, float), shape (bits,)
        Likelihood if present, likelihood if absent.

    Returns
    -------
    Sums
        `log_total` is -inf, and `marginal` NaN, where the evidence is impossible.
    """
    share = prior[:, None] * weight
    state = np.ones((1, weight.shape[1]))
    log_total = np.zeros(weight.shape[1])
    before: list[Floats] = []
    for step in plan.steps:
        if isinstance(step, Absorb):
            before.append(state)
            moved = _spread(state, step.links)
            moved *= share[step.fault]
            state = state * (1.0 - prior[step.fault])
            state += moved
        elif isinstance(step, Open):
            state = np.concatenate((state * (1.0 - leak[step.bit]), state * leak[step.bit]))
        else:
            state = _close(state, step.axis, *pairs[step.bit])
            top = state.max(axis=0)
            state = state / np.where(top > 0.0, top, 1.0)
            with np.errstate(divide="ignore"):
                log_total += np.log(top)
    with np.errstate(divide="ignore"):
        log_total += np.log(state[0])
    return Sums(log_total, _look_back(plan, prior, share, leak, pairs, before))


def _look_back(
    plan: Plan,
    prior: Floats,
    share: Floats,
    leak: Sequence[float],
    pairs: Sequence[tuple[float, float]],
    before: list[Floats],
) -> Floats:
    """Return the posterior of each fault from the states before it and what comes after it."""
    marginal = np.zeros(share.shape)
    after = np.ones((1, share.shape[1]))
    for step in reversed(plan.steps):
        if isinstance(step, Absorb):
            state = before.pop()
            gathered = _gather(after, step.links)
            gathered *= share[step.fault]
            after = after * (1.0 - prior[step.fault])
            after += gathered
            with np.errstate(invalid="ignore"):
                marginal[step.fault] = (state * gathered).sum(axis=0) / (state * after).sum(axis=0)
        elif isinstance(step, Open):
            half = after.shape[0] // 2
            after = after[:half] * (1.0 - leak[step.bit]) + after[half:] * leak[step.bit]
        else:
            after = _reopen(after, step.axis, *pairs[step.bit])
            after /= after.max()
    return marginal


def _spread(state: Floats, links: tuple[tuple[int, float], ...]) -> Floats:
    """Return the state after the fault has explained its bits."""
    moved = state.copy()
    for axis, link in links:
        halves = moved.reshape(1 << axis, 2, -1)
        halves[:, 1] += halves[:, 0] * link
        halves[:, 0] *= 1.0 - link
    return moved


def _gather(after: Floats, links: tuple[tuple[int, float], ...]) -> Floats:
    """Return the transpose of `_spread` applied to what comes after."""
    gathered = after.copy()
    for axis, link in links:
        halves = gathered.reshape(1 << axis, 2, -1)
        halves[:, 0] *= 1.0 - link
        halves[:, 0] += halves[:, 1] * link
    return gathered


def _close(state: Floats, axis: int, if_present: float, if_absent: float) -> Floats:
    """Return the state without a bit, weighed with its likelihood pair."""
    batch = state.shape[1]
    halves = state.reshape(1 << axis, 2, -1)
    closed = halves[:, 1] * if_present
    if if_absent > 0.0:
        closed += halves[:, 0] * if_absent
    return closed.reshape(-1, batch)


def _reopen(after: Floats, axis: int, if_present: float, if_absent: float) -> Floats:
    """Return the transpose of `_close` applied to what comes after."""
    batch = after.shape[1]
    halves = np.empty((1 << axis, 2, after.size >> axis))
    kept = after.reshape(1 << axis, -1)
    halves[:, 0] = kept * if_absent
    halves[:, 1] = kept * if_present
    return halves.reshape(-1, batch)
