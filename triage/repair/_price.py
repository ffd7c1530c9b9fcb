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
PRICED = 32  # remedies considered at all, those of the best success over cost in some state
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
    """
    promise = remedies.trials.cure @ chances / remedies.trials.cost
    return np.sort(np.argsort(-promise, kind="stable")[:CONSIDERED_REMEDIES])


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
    table = _Table.of(remedies, parts, share)
    if table is None:
        return np.full(len(parts), remedies.last_resort)
    at_once = max(1, CELLS // (parts.shape[1] * len(table.fault)))
    prices = [
        _price(table, parts[start : start + at_once], share[start : start + at_once])
        for start in range(0, len(parts), at_once)
    ]
    return np.concatenate(prices)


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """The cures of the remedies looked at, one entry for each fault of each remedy.

    `fault` and `left`, shape (entries,), are the fault and 1 - cure; the entries of a remedy
    begin at `start`, shape (remedies,).
    """

    fault: NDArray[np.intp]
    left: Floats
    start: NDArray[np.intp]
    cost: Floats
    cure: Floats
    after: Bools
    last_resort: float

    @classmethod
    def of(cls, remedies: Remedies, parts: Floats, share: Floats) -> "_Table | None":
        """Return the table of the most promising remedies, None when no remedy cures anything."""
        trials = remedies.trials
        able = np.flatnonzero(trials.cure.any(axis=1))
        if not len(able):
            return None
        # As if the remedy's faults were exclusive: enough to tell which promise something.
        marginal = (share[..., None] * parts).sum(axis=1).max(axis=0, initial=0.0)
        promise = (trials.cure[able] @ marginal) / trials.cost[able]
        chosen = trials.only(np.sort(able[np.argsort(-promise, kind="stable")[:PRICED]]))
        row, fault = np.nonzero(chosen.cure)
        start = np.searchsorted(row, np.arange(len(chosen.cost)))
        left = 1.0 - chosen.cure[row, fault]
        return cls(fault, left, start, chosen.cost, chosen.cure, chosen.after, remedies.last_resort)

    def failing(self, chances: Floats) -> Floats:
        """Return how probable it is that each remedy changes nothing, (states, parts, remedies)."""
        kept = 1.0 - chances[:, :, self.fault] * (1.0 - self.left)
        return np.asarray(np.multiply.reduceat(kept, self.start, axis=2))


def _price(table: _Table, chances: Floats, weight: Floats) -> Floats:
    """Return what `price_beliefs` does, for as many states as fit."""
    now = chances.copy()
    left = weight.copy()  # joint with "all so far changed nothing", no longer summing to 1
    failing = left.sum(axis=1)
    spent = np.zeros(len(now))
    best = failing * table.last_resort
    waiting = np.ones((len(now), len(table.cost)), dtype=bool)
    every = np.arange(len(now))
    for _ in range(min(LOOK_AHEAD, len(table.cost))):
        fails = table.failing(now)
        success = failing[:, None] - np.einsum("sp,spr->sr", left, fails)
        blocked = waiting @ table.after.T
        ratio = np.where(waiting & ~blocked, success / table.cost, -1.0)
        chosen = ratio.argmax(axis=1)
        waiting[every, chosen] = False
        spent += failing * table.cost[chosen]
        left *= fails[every, :, chosen]
        failing = left.sum(axis=1)
        np.minimum(best, spent + failing * table.last_resort, out=best)
        rest = (1.0 - table.cure[chosen])[:, None, :]
        now = now * rest / np.maximum(1.0 - now * (1.0 - rest), 1e-300)
    return np.asarray(best)
