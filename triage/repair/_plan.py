"""A plan for a real case: several faults may be there, and remedies may overlap."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from triage.evidence import Evidence
from triage.inference import AnswerEffects, Posterior
from triage.knowledge import Action, Knowledge
from triage.knowledge._model import Bools, Floats, Sparse
from triage.previews import LEAST_PROCESS, marginal_gains, preview_answers

WAIT_SHARE = 0.1  # of a minute's waiting, in hands-on minutes [judgement: desk, 2026-11-25]
MONEY_MINUTES = 5.0  # hands-on minutes per unit of money [judgement: desk, 2026-11-25]
EFFORT_MINUTES = np.array((1.0, WAIT_SHARE, MONEY_MINUTES))  # of the effort table's columns
# Handing the printer to somebody who certainly cures it, in minutes: the last resort that ends
# every plan, and the price of not being cured [judgement: desk, 2026-11-25]
LAST_RESORT_MINUTES = 480.0
# Safety steps come first from this probability of a dangerous fault on
# [judgement: desk, 2026-11-25]
SUSPECTED = 0.10
# A link from a fault to a dangerous finding that makes the fault itself dangerous
# [judgement: desk, 2026-11-25]
DANGEROUS_LINK = 0.3
MOST_CHECKS = 2  # checks in one plan [judgement: desk, 2026-11-25]
CONSIDERED_FINDINGS = 6  # findings whose checks are priced, those that settle most
LOOK_AHEAD = 8  # remedies considered when a plan is priced


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a plan.

    `minutes` are hands-on, `wait_minutes` waiting. `success` is the probability that a remedy
    cures the case, given that all before it failed; 0 for safety steps and checks.
    `cured_so_far` is the probability of being cured after this step.
    """

    action: str
    kind: str
    minutes: float
    wait_minutes: float
    success: float
    cured_so_far: float


@dataclass(frozen=True, slots=True)
class Plan:
    """Steps in order, and what they cost on average.

    `expected_minutes` counts a remedy only as far as the ones before it may have failed; waiting
    and money enter it by `WAIT_SHARE` and `MONEY_MINUTES`. The last resort is not in it.
    """

    steps: tuple[Step, ...]
    expected_minutes: float


def plan_repair(
    knowledge: Knowledge,
    posterior: Posterior,
    *,
    evidence: Evidence,
    dangers: Collection[str] = (),
    limit: int = 8,
    effects: AnswerEffects | None = None,
) -> Plan:
    """Return what to do, in order: safety steps, checks that pay, remedies.

    * Safety steps come first whenever a danger was read or seen, or a dangerous fault is at
      least `SUSPECTED`; they are never reordered away and do not count towards `limit`.
    * A check comes next when knowing its finding lowers the expected cost of the rest by more
      than the check costs; at most `MOST_CHECKS`, judged one by one.
    * Remedies follow by success over cost, re-computed after each failure, until handing over
      (`LAST_RESORT_MINUTES`, sure success) has the better ratio. What was tried is not
      repeated; an action waits for those named in its `after`.

    Parameters
    ----------
    knowledge : Knowledge
    posterior : Posterior
        Of this evidence.
    evidence : Evidence
    dangers : collection of str
        Ids of dangers read from the text; those of present findings are added.
    limit : int
        Most checks and remedies.
    effects : AnswerEffects, optional
        What `preview_answers` gave for this evidence, when it is at hand: its findings are
        those whose checks are looked at.

    Returns
    -------
    Plan

    Notes
    -----
    Faults count as independent given the evidence: after remedy a failed, fault i has the odds
    it had times 1 - cure. Source: [heckerman1995], [sacso2000].
    """
    bench = _Bench(knowledge, posterior, evidence)
    if effects is None:
        effects = preview_answers(knowledge, evidence, posterior)
    actions = [
        *_safety_actions(bench, dangers),
        *(knowledge.actions[name] for name in _useful_checks(bench, effects)[:limit]),
    ]
    steps = [
        Step(action.id, action.kind, action.minutes, action.wait_minutes, 0.0, 0.0)
        for action in actions
    ]
    expected = sum(_cost(action) for action in actions)
    checks = sum(1 for action in actions if action.kind == "check")
    failed = 1.0
    for action, success in _remedies_in_order(bench):
        if len(steps) - len(actions) + checks >= limit:
            break
        expected += failed * _cost(action)
        failed *= 1.0 - success
        steps.append(
            Step(action.id, action.kind, action.minutes, action.wait_minutes, success, 1.0 - failed)
        )
    return Plan(tuple(steps), expected)


def _cost(action: Action) -> float:
    """Return what an action costs, in hands-on minutes."""
    effort = (action.minutes, action.wait_minutes, action.money)
    return float(np.dot(effort, EFFORT_MINUTES))


@dataclass(frozen=True, eq=False)
class _Bench:
    """What all parts of one plan look at."""

    knowledge: Knowledge
    posterior: Posterior
    evidence: Evidence

    @cached_property
    def chances(self) -> Floats:
        """Posterior of each fault, and a 0 for the filling of `cured`, shape (faults + 1,)."""
        return np.array([*self.posterior.chances.values(), 0.0])

    @cached_property
    def open_actions(self) -> Bools:
        """Which actions suit a likely process and were not tried, shape (actions,)."""
        network = self.knowledge.network
        processes = [p for p, part in self.posterior.processes.items() if part >= LEAST_PROCESS]
        allowed = np.sum([network.does[process] for process in processes], axis=0) > 0
        for entry in self.evidence.tried:
            allowed[network.action_at[entry.action]] = False
        return np.asarray(allowed)

    def of_kind(self, kind: str) -> list[Action]:
        """Return the open actions of a kind, in the order of the knowledge."""
        network = self.knowledge.network
        rows = np.flatnonzero(self.open_actions & network.kinds[kind])
        return [self.knowledge.actions[network.action_ids[row]] for row in rows]

    @cached_property
    def rows(self) -> NDArray[np.intp]:
        """Places of the open remedies, shape (remedies,)."""
        return np.flatnonzero(self.open_actions & self.knowledge.network.kinds["remedy"])

    @cached_property
    def cured(self) -> Sparse:
        """Faults each remedy may cure, and how probably, shape (remedies, most)."""
        cured = self.knowledge.network.cured
        return Sparse(cured.at[self.rows], cured.value[self.rows])

    @cached_property
    def cost(self) -> Floats:
        """Cost of the remedies, shape (remedies,)."""
        return np.asarray(self.knowledge.network.effort[self.rows] @ EFFORT_MINUTES)


def _safety_actions(bench: _Bench, read: Collection[str]) -> tuple[Action, ...]:
    """Return the safety steps the case needs; all of them when a danger has none of its own."""
    knowledge, evidence = bench.knowledge, bench.evidence
    raised = set(read)
    for seen in evidence.observations:
        danger = knowledge.findings[seen.finding].danger
        if danger and seen.if_present > seen.if_absent:
            raised.add(danger)
    suspected = {name for name, chance in bench.posterior.chances.items() if chance >= SUSPECTED}
    network = knowledge.network
    for fault in suspected:
        row = network.link[network.fault_at[fault]]
        raised |= {name for at, name in network.dangerous.items() if row[at] >= DANGEROUS_LINK}
    cautions = {knowledge.dangers[danger].caution for danger in raised}
    steps = bench.of_kind("safety")
    fitting = tuple(
        action
        for action in steps
        if cautions.intersection(action.cautions) or suspected.intersection(action.faults)
    )
    return fitting or (tuple(steps) if raised else ())


def _useful_checks(bench: _Bench, effects: AnswerEffects) -> list[str]:
    """Return the checks whose answer saves more than they cost, best first."""
    settled: dict[str, list[Action]] = {}
    for action in bench.of_kind("check"):
        for finding in action.settles:
            settled.setdefault(finding, []).append(action)
    open_findings = [at for at, name in enumerate(effects.findings) if name in settled]
    if not open_findings or not len(bench.rows):
        return []
    gains = marginal_gains(effects)
    open_findings.sort(key=lambda at: -gains[at])
    effects = effects.only(open_findings[:CONSIDERED_FINDINGS])
    findings = effects.findings
    outcomes = np.vstack((bench.chances[:-1], effects.if_present, effects.if_absent))
    filled = np.pad(np.nan_to_num(outcomes), ((0, 0), (0, 1)))
    costs = _price(filled, bench.cured, bench.cost)
    yes, no = costs[1 : len(findings) + 1], costs[len(findings) + 1 :]
    saved = costs[0] - effects.present * yes - (1.0 - effects.present) * no
    net: dict[str, float] = {}
    for at, finding in enumerate(findings):
        cheapest = min(settled[finding], key=_cost)
        net[cheapest.id] = max(net.get(cheapest.id, 0.0), float(saved[at]) - _cost(cheapest))
    paying = [name for name, value in net.items() if value > 0.0]
    return sorted(paying, key=lambda name: (-net[name], name))[:MOST_CHECKS]


def _price(chances: Floats, cured: Sparse, cost: Floats) -> Floats:
    """Return the expected cost of the greedy order for each state of belief.

    Parameters
    ----------
    chances : array, shape (states, faults + 1)
        The last column is 0, for the filling of `cured`.
    cured : Sparse, shape (remedies, most)
    cost : array, shape (remedies,)

    Returns
    -------
    array, shape (states,)
        With the last resort.
    """
    hopeful = _hopeful(chances.max(axis=0), cured, cost)
    cured, cost = Sparse(cured.at[hopeful], cured.value[hopeful]), cost[hopeful]
    left = chances.copy()
    every = np.arange(len(left))
    failed = np.ones(len(left))
    total = np.zeros(len(left))
    going = np.full(len(left), len(hopeful) > 0)
    for _ in range(LOOK_AHEAD):
        if not going.any():
            break
        success = _success(left, cured)
        ratio = success / cost
        best = ratio.argmax(axis=1)
        going &= ratio[every, best] > 1.0 / LAST_RESORT_MINUTES
        total += np.where(going, failed * cost[best], 0.0)
        failed *= np.where(going, 1.0 - success[every, best], 1.0)
        # A state that has ended is changed as well; nothing looks at it again.
        _fail(left, cured, best)
    return total + failed * LAST_RESORT_MINUTES


def _hopeful(chances: Floats, cured: Sparse, cost: Floats) -> NDArray[np.intp]:
    """Return the places of the remedies that are worth their cost at first.

    Success only falls as others fail, so what is not worth it at first never will be.
    """
    ratio = _success(chances[None], cured)[0] / cost
    return np.flatnonzero(ratio > 1.0 / LAST_RESORT_MINUTES)


def _success(chances: Floats, cured: Sparse) -> Floats:
    """Return the probability that each remedy cures something, shape (states, remedies)."""
    return np.asarray(1.0 - (1.0 - chances[:, cured.at] * cured.value).prod(axis=2))


def _fail(chances: Floats, cured: Sparse, tried: NDArray[np.intp]) -> None:
    """Turn the belief of each state, in place, into that after its remedy changed nothing."""
    every = np.arange(len(chances))[:, None]
    at, cure = cured.at[tried], cured.value[tried]
    now = chances[every, at]
    chances[every, at] = now * (1.0 - cure) / np.maximum(1.0 - now * cure, 1e-300)


def _remedies_in_order(bench: _Bench) -> Iterator[tuple[Action, float]]:
    """Yield the remedies and their success given that all before failed, best ratio first."""
    hopeful = _hopeful(bench.chances, bench.cured, bench.cost)
    cured = Sparse(bench.cured.at[hopeful], bench.cured.value[hopeful])
    cost = bench.cost[hopeful]
    names = bench.knowledge.network.action_ids
    remedies = [bench.knowledge.actions[names[row]] for row in bench.rows[hopeful]]
    left = bench.chances[None].copy()
    waiting = [at for at, remedy in enumerate(remedies) if remedy.after]
    done = np.zeros(len(remedies), dtype=bool)
    while True:
        success = _success(left, cured)[0]
        ratio = np.where(done, 0.0, success / cost)
        worth = ratio > 1.0 / LAST_RESORT_MINUTES
        if waiting:
            before = {remedies[at].id for at in np.flatnonzero(worth)}
            blocked = [at for at in waiting if not before.isdisjoint(remedies[at].after)]
            worth[blocked] = False
        if not worth.any():  # what is left is not worth it, or waits for itself
            return
        best = int(np.where(worth, ratio, 0.0).argmax())
        yield remedies[best], float(success[best])
        done[best] = True
        _fail(left, cured, np.array([best]))
