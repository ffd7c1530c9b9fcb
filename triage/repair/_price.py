"""What a case costs under many states of belief at once, such as after each possible answer.

The price of a belief is the expected cost of remedies in descending order of success over cost,
re-computed after each failure, cut where handing over is cheapest. It has these properties:

* it is never above the cost of the last resort, and never below 0;
* it is the cost of an order that can be followed, hence never below that of the best order;
* the best cost is a minimum of costs each linear in the joint probability of the faults, so it
  is concave: knowing more never makes it dearer on average. The order here is a heuristic, and
  marginals leave the dependence between faults out, so that the mean price after an answer may
  exceed the price before it by a little. Whoever takes the difference as the value of an answer
  must cut it at 0.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.errors import OutOfRangeError
from triage.evidence import Evidence
from triage.inference import Posterior
from triage.knowledge import Knowledge
from triage.knowledge._model import Bools, Floats
from triage.previews import LEAST_PROCESS
from triage.repair._effort import EFFORT_MINUTES, choose_last_resort, cost_of
from triage.repair._order import Trials

CONSIDERED_REMEDIES = 24  # remedies looked at for one order, three times the usual limit
LOOK_AHEAD = 8  # remedies considered when a belief is priced
PRICED = 12  # remedies considered in each state, those of the best success over cost there
CELLS = 1 << 18  # numbers held at once; more states are priced in parts


@dataclass(frozen=True, slots=True, eq=False)
class Remedies:
    """The remedies open to a case, and what handing over costs, in minutes.

    `rows`, shape (remedies,), are their places among the actions of the knowledge.
    """

    rows: NDArray[np.intp]
    trials: Trials
    last_resort: float


def open_actions(knowledge: Knowledge, posterior: Posterior, evidence: Evidence) -> Bools:
    """Return which actions suit a likely process and were not tried, shape (actions,)."""
    network = knowledge.network
    likely = [name for name, part in posterior.processes.items() if part >= LEAST_PROCESS]
    allowed = np.any([network.does[process] for process in likely], axis=0)
    for entry in evidence.tried:
        allowed[network.action_at[entry.action]] = False
    return np.asarray(allowed)


def open_remedies(knowledge: Knowledge, posterior: Posterior, evidence: Evidence) -> Remedies:
    """Return the remedies that suit a likely process and were not tried.

    Parameters
    ----------
    knowledge : Knowledge
    posterior : Posterior
        Of this evidence.
    evidence : Evidence

    Returns
    -------
    Remedies
    """
    network = knowledge.network
    allowed = open_actions(knowledge, posterior, evidence)
    rows = np.flatnonzero(allowed & network.kinds["remedy"])
    actions = tuple(knowledge.actions.values())
    place = {actions[row].id: at for at, row in enumerate(rows)}
    after = np.zeros((len(rows), len(rows)), dtype=bool)
    for name, at in place.items():
        before = [place[other] for other in knowledge.actions[name].after if other in place]
        after[at, before] = True
    trials = Trials(network.cure[rows], network.effort[rows] @ EFFORT_MINUTES, after)
    resorts = [actions[row] for row in np.flatnonzero(allowed & network.kinds["last-resort"])]
    return Remedies(rows, trials, cost_of(choose_last_resort(resorts, posterior.chances)))


def promising(remedies: Remedies, chances: Floats) -> NDArray[np.intp]:
    """Return the places of the remedies of the best success over cost, in ascending order.

    Parameters
    ----------
    remedies : Remedies
    chances : array, shape (faults,)
        Taken as if they excluded each other.

    Returns
    -------
    array of int, shape (at most `CONSIDERED_REMEDIES`,)
        Without those that cure nothing that can be there.
    """
    promise = remedies.trials.cure @ chances / remedies.trials.cost
    best = np.argsort(-promise, kind="stable")[:CONSIDERED_REMEDIES]
    return np.sort(best[promise[best] > 0.0])


def price_beliefs(remedies: Remedies, chances: Floats, weight: Floats | None = None) -> Floats:
    """Return the expected cost of the best plan known, for each state of belief.

    Parameters
    ----------
    remedies : Remedies
        As `open_remedies` gives them.
    chances : array, shape (states, faults) or (states, parts, faults), 0 to 1
        Probability of each fault, taken as independent (inside each part).
    weight : array, shape (states, parts), optional
        Probability of each part; needed when there are parts.

    Returns
    -------
    array, shape (states,)
        Hands-on minutes, with waiting, money and the last resort at their weights; at most
        `remedies.last_resort`. For its properties see the module.

    Raises
    ------
    OutOfRangeError
        If the shapes do not fit.
    """
    parts = chances[:, None, :] if weight is None else chances
    share = np.ones(parts.shape[:2]) if weight is None else weight
    faults = remedies.trials.cure.shape[1]
    if parts.ndim != 3 or share.shape != parts.shape[:2] or parts.shape[2] != faults:
        msg = (
            f"chances of shape {chances.shape} and weights of shape {share.shape} "
            f"do not fit {faults} faults"
        )
        raise OutOfRangeError(msg)
    able = np.flatnonzero(remedies.trials.cure.any(axis=1))
    if not len(able):
        return np.full(len(parts), remedies.last_resort)
    table = _Table.of(remedies.trials.only(able), remedies.last_resort)
    at_once = max(1, CELLS // (parts.shape[1] * PRICED * table.fault.shape[1]))
    prices = [
        _price(table, parts[start : start + at_once], share[start : start + at_once])
        for start in range(0, len(parts), at_once)
    ]
    return np.concatenate(prices)


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """The remedies as numbers, one row each.

    `fault` and `cured`, shape (remedies, most), are the faults a remedy cures and how probably;
    shorter rows are filled up with a cure of 0 of a fault one past the last.
    """

    trials: Trials
    fault: NDArray[np.intp]
    cured: Floats
    last_resort: float

    @classmethod
    def of(cls, trials: Trials, last_resort: float) -> "_Table":
        """Return the table of remedies that each cure something."""
        row, column = np.nonzero(trials.cure)
        place = np.arange(len(row)) - np.searchsorted(row, row)
        width = int(place.max()) + 1
        fault = np.full((len(trials.cost), width), trials.cure.shape[1], dtype=np.intp)
        cured = np.zeros(fault.shape)
        fault[row, place] = column
        cured[row, place] = trials.cure[row, column]
        return cls(trials, fault, cured, last_resort)

    def most_promising(self, marginal: Floats) -> NDArray[np.intp]:
        """Return the remedies looked at in each state, shape (states, at most `PRICED`)."""
        # As if the remedy's faults were exclusive: enough to tell which promise something.
        # Not by a matrix product: its threads cost more than they save on tables this small.
        cured = np.pad(marginal, ((0, 0), (0, 1)))[:, self.fault] * self.cured
        promise = cured.sum(axis=2) / self.trials.cost
        if len(self.trials.cost) <= PRICED:
            return np.broadcast_to(np.arange(len(self.trials.cost)), promise.shape)
        return np.sort(np.argpartition(-promise, PRICED, axis=1)[:, :PRICED], axis=1)


def _price(table: _Table, chances: Floats, weight: Floats) -> Floats:
    """Return what `price_beliefs` does, for as many states as fit."""
    looked_at = table.most_promising((weight[:, :, None] * chances).sum(axis=1))
    cost, fault, cured = (
        table.trials.cost[looked_at],
        table.fault[looked_at],
        table.cured[looked_at],
    )
    after = table.trials.after[looked_at[:, :, None], looked_at[:, None, :]]
    state = np.arange(len(chances))
    part = np.arange(chances.shape[1])
    now = np.pad(chances, ((0, 0), (0, 0), (0, 1)))
    left = weight.copy()  # joint with "all so far changed nothing", no longer summing to 1
    failing = left.sum(axis=1)
    spent = np.zeros(len(now))
    best = failing * table.last_resort
    waiting = np.ones(looked_at.shape, dtype=bool)
    for _ in range(min(LOOK_AHEAD, looked_at.shape[1])):
        there = now[state[:, None, None, None], part[:, None, None], fault[:, None]]
        fails = (1.0 - there * cured[:, None]).prod(axis=3)
        success = failing[:, None] - np.einsum("sp,spr->sr", left, fails)
        blocked = (after & waiting[:, None, :]).any(axis=2)
        chosen = np.where(waiting & ~blocked, success / cost, -1.0).argmax(axis=1)
        waiting[state, chosen] = False
        spent += failing * cost[state, chosen]
        left *= fails[state, :, chosen]
        failing = left.sum(axis=1)
        np.minimum(best, spent + failing * table.last_resort, out=best)
        place = (state[:, None, None], part[:, None], fault[state, chosen][:, None])
        cure = cured[state, chosen][:, None]
        now[place] = now[place] * (1.0 - cure) / np.maximum(1.0 - now[place] * cure, 1e-300)
    return np.asarray(best)
