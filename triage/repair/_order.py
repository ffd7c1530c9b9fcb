"""The cheapest order of remedies under a belief.

What counts is how probable it is that a *set* of remedies has changed nothing; in which order they
were done does not matter for that. The cheapest way to have done a set is therefore found from the
cheapest ways to have done it less one remedy: dynamic programming over sets, layer by layer. Up to
`EXACT` remedies all sets are kept and the order is the cheapest there is. With more only the most
promising sets of each size are kept, and always those that the order by success over cost and the
same re-computed after each failure pass through: the outcome is never worse than either.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.errors import OutOfRangeError
from triage.knowledge._model import Bools, Floats
from triage.repair._belief import Failing

EXACT = 8  # remedies up to which the order is the cheapest of all
KEPT = 24  # sets kept of each size when there are more than EXACT [judgement: desk, 2026-11-25]
POOL = 12  # remedies looked at when there are more, those of the two simple orders first
MOST_ACTIONS = 60  # a set is held in the bits of one number


@dataclass(frozen=True, slots=True, eq=False)
class Trials:
    """Remedies as numbers.

    Parameters
    ----------
    cure : array, shape (actions, faults)
        Probability that the action cures the fault.
    cost : array, shape (actions,), > 0
        Hands-on minutes.
    after : array of bool, shape (actions, actions)
        Whether the action of the row comes after that of the column when both are done.
    """

    cure: Floats
    cost: Floats
    after: Bools

    def only(self, places: Sequence[int] | NDArray[np.intp]) -> "Trials":
        """Return the trials at some places."""
        at = np.asarray(places, dtype=np.intp)
        return Trials(self.cure[at], self.cost[at], self.after[np.ix_(at, at)])


@dataclass(frozen=True, slots=True)
class Order:
    """An order of actions and what it costs.

    `places` are those of the actions to do, one after the other; `failing` is the probability
    that nothing has changed after each of them; `cost` is the expected cost, the last resort
    included. `is_exact` says that no order costs less under the belief it was made with.
    """

    places: tuple[int, ...]
    failing: tuple[float, ...]
    cost: float
    is_exact: bool


def make_trials(
    cure: Sequence[Sequence[float]] | Floats,
    cost: Sequence[float] | Floats,
    after: Sequence[Collection[int]] = (),
) -> Trials:
    """Return actions as numbers.

    Parameters
    ----------
    cure : array, shape (actions, faults), 0 to 1
    cost : array, shape (actions,), > 0
    after : sequence of collections of int, shape (actions,), optional
        Places of the actions each one comes after when both are done.

    Returns
    -------
    Trials

    Raises
    ------
    OutOfRangeError
        If shapes do not fit, a probability is outside 0 to 1 or a cost is not above 0.
    """
    table = np.asarray(cure, dtype=float).reshape(len(cure), -1)
    price = np.asarray(cost, dtype=float)
    if len(table) != len(price):
        msg = f"{len(table)} rows of cures and {len(price)} costs: one of each is needed"
        raise OutOfRangeError(msg)
    if not ((table >= 0.0) & (table <= 1.0)).all():
        msg = f"cures from {table.min():g} to {table.max():g} must lie between 0 and 1"
        raise OutOfRangeError(msg)
    for value in price:
        if not 0.0 < value < math.inf:
            msg = f"cost {value:g} must be above 0"
            raise OutOfRangeError(msg)
    waits = np.zeros((len(price), len(price)), dtype=bool)
    for row, places in enumerate(after):
        waits[row, list(places)] = True
    return Trials(table, price, waits)


def evaluate_order(
    belief: Failing, trials: Trials, places: Sequence[int], *, last_resort: float = 0.0
) -> Order:
    """Return what an order given costs under a belief.

    Parameters
    ----------
    belief : Failing
    trials : Trials
    places : sequence of int
        Actions to do, in order.
    last_resort : float
        What is paid, in minutes, when all of them have changed nothing.

    Returns
    -------
    Order
    """
    rest = np.cumprod(1.0 - trials.cure[list(places)], axis=0)
    before = belief.failing(np.vstack((np.ones((1, trials.cure.shape[1])), rest))).tolist()
    cost = sum(
        chance * trials.cost[place] for chance, place in zip(before[:-1], places, strict=True)
    )
    total = float(cost + before[-1] * last_resort)
    return Order(tuple(places), tuple(before[1:]), total, is_exact=False)


def find_order(
    belief: Failing,
    trials: Trials,
    *,
    last_resort: float = math.inf,
    limit: int | None = None,
) -> Order:
    """Return the order of least expected cost.

    Parameters
    ----------
    belief : Failing
        Such as a `Belief`, or the exact `Joint`.
    trials : Trials
    last_resort : float, > 0
        What is paid when all that was done has changed nothing: handing over is then better
        than an action of little hope, and the order ends there. When infinite, all actions
        are done.
    limit : int, optional
        Most actions, when the last resort is finite.

    Returns
    -------
    Order
        Never dearer than the actions by success over cost, nor than the same re-computed after
        each failure, each cut where it is best.

    Raises
    ------
    OutOfRangeError
        If none may be left out and there are more than `MOST_ACTIONS`, or some wait for each
        other.

    Notes
    -----
    Exact up to `EXACT` actions that can pay; beyond, see the module. Actions that cannot pay
    wherever they stand are left out first: an action saves at most all other costs and the
    last resort, as often as it succeeds at the start, and it is paid for at least as often as
    everything fails.
    Source: [kadane1977], [heckerman1995], [sacso2000] for the problem.
    """
    places = np.arange(len(trials.cost))
    length = len(places)
    if math.isfinite(last_resort):
        places = _can_pay(belief, trials, last_resort)
        length = len(places) if limit is None else min(limit, len(places))
    open_trials = trials.only(places)
    seeds = [_by_ratio(belief, open_trials, length), _recomputed(belief, open_trials, length)]
    is_exact = len(places) <= EXACT
    if math.isfinite(last_resort) and len(places) > POOL:
        pool = _pool(belief, open_trials, seeds)
        where = {int(at): new for new, at in enumerate(pool)}
        seeds = [[where[at] for at in seed] for seed in seeds]
        places, open_trials = places[pool], open_trials.only(pool)
    if len(places) > MOST_ACTIONS:
        msg = f"{len(places)} actions are more than can be ordered; the limit is {MOST_ACTIONS}"
        raise OutOfRangeError(msg)
    best = _search(belief, open_trials, seeds, length=length, last_resort=last_resort)
    found = evaluate_order(
        belief, open_trials, best, last_resort=last_resort if math.isfinite(last_resort) else 0.0
    )
    chosen = tuple(int(places[at]) for at in found.places)
    return Order(chosen, found.failing, found.cost, is_exact)


def quick_order(belief: Failing, trials: Trials, *, last_resort: float, limit: int) -> Order:
    """Return the order by success over cost, re-computed after each failure, cut where it is best.

    Parameters and source as for `find_order`, which is never dearer and takes several times as
    long.
    """
    places = _recomputed(belief, trials, min(limit, len(trials.cost)))
    return _cut(belief, trials, places, last_resort)


def ratio_order(belief: Failing, trials: Trials, *, last_resort: float, limit: int) -> Order:
    """Return the order by success over cost, taken once, cut where it is best.

    Parameters and source as for `find_order`, which is never dearer.
    """
    return _cut(
        belief, trials, _by_ratio(belief, trials, min(limit, len(trials.cost))), last_resort
    )


def _cut(belief: Failing, trials: Trials, places: Sequence[int], last_resort: float) -> Order:
    """Return an order without the actions at its end that cost more than they save."""
    whole = evaluate_order(belief, trials, places, last_resort=last_resort)
    reached = (float(belief.failing(np.ones((1, trials.cure.shape[1])))[0]), *whole.failing)
    spent = np.concatenate(([0.0], np.cumsum(np.array(reached[:-1]) * trials.cost[list(places)])))
    total = spent + np.array(reached) * last_resort
    best = int(total.argmin())
    return Order(tuple(places[:best]), whole.failing[:best], float(total[best]), is_exact=False)


def _can_pay(belief: Failing, trials: Trials, last_resort: float) -> NDArray[np.intp]:
    """Return the places of the actions that may be worth their cost somewhere."""
    success = 1.0 - belief.failing(1.0 - trials.cure)
    none_worked = belief.failing((1.0 - trials.cure).prod(axis=0, keepdims=True))[0]
    return np.flatnonzero(success * (last_resort + trials.cost.sum()) > trials.cost * none_worked)


def _by_ratio(belief: Failing, trials: Trials, length: int) -> list[int]:
    """Return the first actions by success over cost, taken once."""
    ratio = (1.0 - belief.failing(1.0 - trials.cure)) / trials.cost
    done: list[int] = []
    for _ in range(length):
        best = _best(ratio, trials.after, done)
        if best is None:
            break
        done.append(best)
    return done


def _recomputed(belief: Failing, trials: Trials, length: int) -> list[int]:
    """Return the first actions by success over cost, re-computed after each failure."""
    rest = np.ones(trials.cure.shape[1])
    done: list[int] = []
    for _ in range(length):
        now = belief.failing(np.vstack((rest[None], rest * (1.0 - trials.cure))))
        best = _best((now[0] - now[1:]) / trials.cost, trials.after, done)
        if best is None:
            break
        done.append(best)
        rest = rest * (1.0 - trials.cure[best])
    return done


def _best(ratio: Floats, after: Bools, done: list[int]) -> int | None:
    """Return the action of the best ratio that waits for nothing, None when all wait."""
    waiting = np.ones(len(ratio), dtype=bool)
    waiting[done] = False
    ready = waiting & ~(after & waiting).any(axis=1)
    if not ready.any():
        return None
    return int(np.where(ready, ratio, -1.0).argmax())


def _pool(belief: Failing, trials: Trials, seeds: Sequence[Sequence[int]]) -> NDArray[np.intp]:
    """Return the actions looked at: all of the simple orders, then by success over cost."""
    ratio = (1.0 - belief.failing(1.0 - trials.cure)) / trials.cost
    chosen = dict.fromkeys([*(at for seed in seeds for at in seed), *np.argsort(-ratio).tolist()])
    known = len({at for seed in seeds for at in seed})
    return np.sort(np.array(list(chosen)[: max(POOL, known)], dtype=np.intp))


@dataclass(frozen=True, slots=True, eq=False)
class _Layer:
    """Sets of one size: bit masks, cheapest cost, what each leaves of the faults, and how made."""

    mask: NDArray[np.int64]
    cost: Floats
    rest: Floats
    failing: Floats
    parent: NDArray[np.intp]
    action: NDArray[np.intp]


def _search(
    belief: Failing,
    trials: Trials,
    seeds: Sequence[Sequence[int]],
    *,
    length: int,
    last_resort: float,
) -> list[int]:
    """Return the cheapest order found by dynamic programming over sets."""
    rest = np.ones((1, trials.cure.shape[1]))
    nothing = np.zeros(1, dtype=np.intp)
    start = np.zeros(1, dtype=np.int64)
    layers = [_Layer(start, np.zeros(1), rest, belief.failing(rest), nothing, nothing)]
    must_end = not math.isfinite(last_resort)
    best = (math.inf if must_end and length else float(layers[0].failing[0]) * last_resort, 0, 0)
    for size in range(1, length + 1):
        layer = _next_layer(belief, trials, layers[-1], seeds, size, last_resort)
        if layer is None:
            break
        layers.append(layer)
        total = layer.cost if must_end else layer.cost + layer.failing * last_resort
        at = int(total.argmin())
        if size == length if must_end else total[at] < best[0] * (1.0 - 1e-12):
            best = (float(total[at]), size, at)
    cost, size, at = best
    if not math.isfinite(cost):
        msg = f"of {length} actions that must all be done some wait for each other"
        raise OutOfRangeError(msg)
    order: list[int] = []
    for layer in reversed(layers[1 : size + 1]):
        order.append(int(layer.action[at]))
        at = int(layer.parent[at])
    return order[::-1]


def _next_layer(
    belief: Failing,
    trials: Trials,
    layer: _Layer,
    seeds: Sequence[Sequence[int]],
    size: int,
    last_resort: float,
) -> _Layer | None:
    """Return the sets with one action more, None when there is none."""
    count = len(trials.cost)
    bits = np.int64(1) << np.arange(count, dtype=np.int64)
    # Done twice, or done before something that has to come after it.
    barred = bits | (trials.after.T @ bits)
    parent, action = np.nonzero((layer.mask[:, None] & barred) == 0)
    if not len(parent):
        return None
    mask = layer.mask[parent] | bits[action]
    cost = layer.cost[parent] + layer.failing[parent] * trials.cost[action]
    # Of the ways to one set the cheapest; of equal ones that in the order of the knowledge.
    by_set = np.lexsort((-action, np.round(cost, 9), mask))
    first = by_set[np.concatenate(([True], mask[by_set][1:] != mask[by_set][:-1]))]
    parent, action, mask, cost = parent[first], action[first], mask[first], cost[first]
    rest = layer.rest[parent] * (1.0 - trials.cure[action])
    failing = belief.failing(rest)
    if count > EXACT and len(mask) > KEPT:
        left = trials.cost.sum() - ((mask[:, None] & bits) != 0) @ trials.cost
        score = cost + failing * np.minimum(left, last_resort)
        passed = [sum(1 << at for at in seed[:size]) for seed in seeds if len(seed) >= size]
        keep = np.union1d(np.argsort(score)[:KEPT], np.flatnonzero(np.isin(mask, passed)))
        parent, action, mask, cost = parent[keep], action[keep], mask[keep], cost[keep]
        rest, failing = rest[keep], failing[keep]
    return _Layer(mask, cost, rest, failing, parent, action)
