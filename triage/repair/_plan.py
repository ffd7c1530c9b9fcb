"""A plan for a real case: several faults may be there, and remedies may overlap."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.evidence import Evidence
from triage.inference import AnswerEffects, Posterior
from triage.knowledge import Action, Knowledge
from triage.previews import DANGEROUS_LINK, marginal_gains, preview_answers
from triage.repair._belief import Belief, Joint, as_independent
from triage.repair._effort import choose_last_resort, cost_of, effort_of
from triage.repair._order import (
    EXACT,
    Order,
    Trials,
    evaluate_order,
    find_order,
    quick_order,
    ratio_order,
)
from triage.repair._price import Remedies, open_actions, open_remedies, price_beliefs, promising

# Safety steps come first from this probability of a dangerous fault on
# [judgement: desk, 2026-11-25]
SUSPECTED = 0.10
CONSIDERED_FINDINGS = 12  # findings whose checks are priced, those that settle most
TRIED_PLACES = 3  # places in the order where the best check is tried, the first among them
PAYS_MINUTES = 0.05  # a check that saves less is left out [judgement: desk, 2026-11-25]


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a plan.

    `minutes` are hands-on, `wait_minutes` waiting, `money` in units of money. `reached` is the
    probability that the step is come to; `success` that it cures the case once it is come to, 0
    for safety steps and checks. `cured_so_far` is the probability of being cured by then; after
    a check it counts what is done for either answer.
    """

    action: str
    kind: str
    minutes: float
    wait_minutes: float
    money: float
    reached: float
    success: float
    cured_so_far: float


@dataclass(frozen=True, slots=True)
class Fork:
    """What a check decides.

    `finding` is what it settles, `present` the probability that it finds it. The plan's steps
    go on with one answer, `follows` ("present" or "absent"); `otherwise` are the remedies for
    the other one, in order.
    """

    check: str
    finding: str
    present: float
    follows: str
    otherwise: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """Steps in order, and what they cost on average.

    Parameters
    ----------
    steps : tuple of Step
        Safety steps, then remedies with at most one check between them.
    expected_minutes, expected_wait_minutes, expected_money : float
        Hands-on minutes, minutes of waiting and money, a step counted as far as it is reached;
        the last resort is not in them.
    expected_cost : float
        All together with the last resort, in hands-on minutes at the weights `WAIT_SHARE` and
        `MONEY_MINUTES`.
    last_resort : Step
        What remains when nothing has helped. It is sure to help, and its cost bounds that of
        every plan; `reached` is the probability that it comes to that.
    fork : Fork or None
        What the check decides, when there is one.
    """

    steps: tuple[Step, ...]
    expected_minutes: float
    expected_wait_minutes: float
    expected_money: float
    expected_cost: float
    last_resort: Step
    fork: Fork | None


def plan_repair(
    knowledge: Knowledge,
    posterior: Posterior,
    *,
    evidence: Evidence,
    dangers: Collection[str] = (),
    limit: int = 8,
    effects: AnswerEffects | None = None,
    is_quick: bool = False,
) -> Plan:
    """Return what to do, in order: safety steps, then remedies and the check that pays.

    * Safety steps come first whenever a danger was read or seen, or a dangerous fault is at
      least `SUSPECTED`; they are never reordered away and do not count towards `limit`.
    * Remedies follow in the order of least expected cost, see `find_order`; the plan ends where
      handing over is cheaper. What was tried is not repeated; an action waits for those named
      in its `after`.
    * One check stands among them, at the place where it saves most, when knowing its finding
      lowers the expected cost by more than the check costs. One is enough: the plan is made
      anew once the answer is known.

    Parameters
    ----------
    knowledge : Knowledge
    posterior : Posterior
        Of this evidence.
    evidence : Evidence
    dangers : collection of str
        Ids of dangers read from the text; those of present findings are added.
    limit : int
        Most remedies and checks.
    effects : AnswerEffects, optional
        What `preview_answers` gave for this evidence, when it is at hand: its findings are
        those whose checks are looked at.
    is_quick : bool
        For many reports at once: faults taken as independent, remedies by success over cost
        re-computed after each failure, and no check.

    Returns
    -------
    Plan

    Notes
    -----
    Probabilities are exact: that a set of remedies has changed nothing is one more column of
    the sum over all sets of faults. Orders are searched in a mixture, see `_belief`.
    Source: [heckerman1995], [sacso2000].
    """
    allowed = open_actions(knowledge, posterior, evidence)
    by_kind = {
        kind: [knowledge.actions[knowledge.network.action_ids[row]] for row in np.flatnonzero(rows)]
        for kind, rows in (
            (kind, allowed & knowledge.network.kinds[kind])
            for kind in ("safety", "check", "last-resort")
        )
    }
    remedies = open_remedies(knowledge, posterior, evidence)
    if is_quick:
        line = _quick_line(remedies, posterior, limit)
    else:
        if effects is None:
            effects = preview_answers(knowledge, evidence, posterior)
        belief = Joint.of(posterior)
        line = _Line.best(belief, remedies, limit)
        chosen = _best_check(knowledge, by_kind["check"], remedies, posterior, effects)
        if chosen is not None and limit > 0:
            line = _with_check(knowledge, belief, remedies, line, chosen, limit)
    safety = _safety_actions(knowledge, posterior, evidence, dangers, by_kind["safety"])
    last = choose_last_resort(by_kind["last-resort"], posterior.chances)
    return _lay_out(knowledge, remedies, line, safety, last)


@dataclass(frozen=True, slots=True)
class _Check:
    """A check, the finding it is done for, and that finding's place in the network."""

    action: Action
    finding: str
    at: int


@dataclass(frozen=True, slots=True)
class _Line:
    """Remedies in order, then perhaps a check and one line for each answer.

    `first` holds the remedies before the check, all of them without one.
    """

    first: Order
    cost: float
    check: _Check | None = None
    present: float = 0.0
    if_present: Order | None = None
    if_absent: Order | None = None

    @classmethod
    def best(cls, belief: Joint, remedies: Remedies, limit: int) -> "_Line":
        """Return the cheapest line without a check, never dearer than success over cost."""
        simple = ratio_order(belief, remedies.trials, last_resort=remedies.last_resort, limit=limit)
        # The search may be misled where the mixture is not exact; the plain order is not.
        order = min(_find_order(belief, remedies, limit), simple, key=lambda order: order.cost)
        return cls(order, order.cost)


def _quick_line(remedies: Remedies, posterior: Posterior, limit: int) -> _Line:
    """Return the line without a check that is found soonest."""
    now = np.array(list(posterior.chances.values()))
    places = promising(remedies, now)
    found = quick_order(
        as_independent(now),
        remedies.trials.only(places),
        last_resort=remedies.last_resort,
        limit=limit,
    )
    chosen = tuple(int(places[at]) for at in found.places)
    return _Line(Order(chosen, found.failing, found.cost, is_exact=False), found.cost)


def _find_order(
    belief: Joint, remedies: Remedies, limit: int, *, searched: Belief | None = None
) -> Order:
    """Return the cheapest order, valued in the exact belief.

    Few remedies are searched in the exact belief too, more in the mixture.
    """
    trials, last_resort = remedies.trials, remedies.last_resort
    mixed = searched or belief.split()
    looked_at = promising(remedies, mixed.marginal())
    if len(looked_at) <= EXACT:
        found = find_order(belief, trials.only(looked_at), last_resort=last_resort, limit=limit)
        return replace(found, places=tuple(looked_at[list(found.places)].tolist()))
    found = find_order(mixed, trials.only(looked_at), last_resort=last_resort, limit=limit)
    places = looked_at[list(found.places)].tolist()
    return evaluate_order(belief, trials, places, last_resort=last_resort)


def _best_check(
    knowledge: Knowledge,
    checks: Sequence[Action],
    remedies: Remedies,
    posterior: Posterior,
    effects: AnswerEffects,
) -> _Check | None:
    """Return the check whose answer saves most beyond its cost, None when nothing is saved.

    Screened with faults taken as independent; what the check really saves is summed later.
    """
    cheapest: dict[str, Action] = {}
    for action in checks:
        for finding in action.settles:
            if finding not in cheapest or cost_of(action) < cost_of(cheapest[finding]):
                cheapest[finding] = action
    places = [at for at, name in enumerate(effects.findings) if name in cheapest]
    if not places or not len(remedies.rows):
        return None
    gains = marginal_gains(effects)
    places = sorted(places, key=lambda at: -gains[at])[:CONSIDERED_FINDINGS]
    some = effects.only(places)
    now = np.array(list(posterior.chances.values()))
    states = np.nan_to_num(np.vstack((now, some.if_present, some.if_absent)))
    price = price_beliefs(remedies, states)
    count = len(places)
    after = some.present * price[1 : count + 1] + (1.0 - some.present) * price[count + 1 :]
    saved = price[0] - after - [cost_of(cheapest[name]) for name in some.findings]
    best = int(saved.argmax())
    if saved[best] <= 0.0:
        return None
    finding = some.findings[best]
    return _Check(cheapest[finding], finding, knowledge.network.finding_at[finding])


def _with_check(
    knowledge: Knowledge,
    belief: Joint,
    remedies: Remedies,
    line: _Line,
    check: _Check,
    limit: int,
) -> _Line:
    """Return the line with the check where it saves most, or as it was when it saves nothing.

    Also tried after the first remedies: a quick one may come before a look. The place is chosen
    by the quick price of the branches, what is gained there by their best orders.
    """
    places = line.first.places
    forks = [
        _Fork.after(knowledge, belief, remedies, places[:count], check)
        for count in range(min(TRIED_PLACES, len(places) + 1, limit))
    ]
    possible = [fork for fork in forks if fork is not None]
    if not possible:
        return line
    fork = min(possible, key=lambda fork: fork.price)
    room = limit - len(fork.first.places) - 1
    if_present, if_absent = (
        _find_order(after, fork.left, room, searched=searched)
        for after, searched in ((fork.if_present, fork.mixed[0]), (fork.if_absent, fork.mixed[1]))
    )
    cost = fork.cost_before + fork.reached * (
        fork.present * if_present.cost + (1.0 - fork.present) * if_absent.cost
    )
    if cost >= line.cost - PAYS_MINUTES:
        return line
    return _Line(fork.first, cost, check, fork.present, if_present, if_absent)


@dataclass(frozen=True, slots=True, eq=False)
class _Fork:
    """A place for a check: what is done before it, and the beliefs after each answer.

    `cost_before` includes the check, as far as it is reached. `mixed` holds the beliefs as
    mixtures to search with; `price` is a quick price of the whole.
    """

    first: Order
    reached: float
    present: float
    if_present: Joint
    if_absent: Joint
    left: Remedies
    mixed: tuple[Belief, Belief]
    cost_before: float
    price: float

    @classmethod
    def after(
        cls,
        knowledge: Knowledge,
        belief: Joint,
        remedies: Remedies,
        places: tuple[int, ...],
        check: _Check,
    ) -> "_Fork | None":
        """Return the fork after some remedies, None when one of the answers cannot come."""
        network, trials = knowledge.network, remedies.trials
        first = evaluate_order(belief, trials, places)
        reached, after = belief.thinned((1.0 - trials.cure[list(places)]).prod(axis=0))
        rest, leak = 1.0 - network.link[:, check.at], float(network.leak[check.at])
        present, if_present, if_absent = after.answered(rest, leak)
        if not 0.0 < present < 1.0 or reached <= 0.0:
            return None
        left = Remedies(remedies.rows, _without(trials, places), remedies.last_resort)
        mixed = (if_present.split(), if_absent.split())
        price = (
            float(price_beliefs(left, mix.chances[None], mix.weight[None])[0]) for mix in mixed
        )
        cost_before = first.cost + reached * cost_of(check.action)
        later = present * next(price) + (1.0 - present) * next(price)
        return cls(
            first=first,
            reached=reached,
            present=present,
            if_present=if_present,
            if_absent=if_absent,
            left=left,
            mixed=mixed,
            cost_before=cost_before,
            price=cost_before + reached * later,
        )


def _without(trials: Trials, done: Sequence[int]) -> Trials:
    """Return the trials with those already done made useless, so that places stay the same."""
    cure, after = trials.cure.copy(), trials.after.copy()
    cure[list(done)] = 0.0
    after[:, list(done)] = False
    return Trials(cure, trials.cost, after)


def _lay_out(
    knowledge: Knowledge,
    remedies: Remedies,
    line: _Line,
    safety: Sequence[Action],
    last: Action,
) -> Plan:
    """Return the plan of a line as steps and sums."""
    actions = knowledge.actions
    names = [knowledge.network.action_ids[row] for row in remedies.rows]
    steps = [_step(action, 1.0, 0.0, 0.0) for action in safety]
    effort = sum((effort_of(action) for action in safety), np.zeros(3))
    fork = None
    failing = 1.0
    for place, left in zip(line.first.places, line.first.failing, strict=True):
        action = actions[names[place]]
        steps.append(_step(action, failing, _success(failing, left), 1.0 - left))
        effort += failing * effort_of(action)
        failing = left
    if line.check is not None and line.if_present is not None and line.if_absent is not None:
        check = line.check.action
        steps.append(_step(check, failing, 0.0, 1.0 - failing))
        effort += failing * effort_of(check)
        branches = {"present": line.if_present, "absent": line.if_absent}
        shares = {"present": line.present, "absent": 1.0 - line.present}
        cures = {name: shares[name] * (1.0 - _end(order)) for name, order in branches.items()}
        follows = max(cures, key=lambda name: cures[name])
        other = "absent" if follows == "present" else "present"
        for name, order in branches.items():
            for place, reached in zip(order.places, (1.0, *order.failing), strict=False):
                effort += failing * shares[name] * reached * effort_of(actions[names[place]])
        steps += _branch_steps(
            [actions[names[place]] for place in branches[follows].places],
            branches[follows],
            branches[other],
            reached=failing,
            share=shares[follows],
        )
        fork = Fork(
            check=check.id,
            finding=line.check.finding,
            present=line.present,
            follows=follows,
            otherwise=tuple(names[place] for place in branches[other].places),
        )
        failing *= sum(shares[name] * _end(order) for name, order in branches.items())
    return Plan(
        steps=tuple(steps),
        expected_minutes=float(effort[0]),
        expected_wait_minutes=float(effort[1]),
        expected_money=float(effort[2]),
        expected_cost=line.cost + sum(cost_of(action) for action in safety),
        last_resort=_step(last, failing, 1.0, 1.0),
        fork=fork,
    )


def _branch_steps(
    actions: Sequence[Action], order: Order, other: Order, *, reached: float, share: float
) -> Iterator[Step]:
    """Yield the steps after a check for the answer that is followed.

    What is cured counts both answers, as many steps of the other as of this one.
    """
    before = 1.0
    for number, (action, left) in enumerate(zip(actions, order.failing, strict=True), start=1):
        beside = (1.0, *other.failing)[min(number, len(other.failing))]
        cured = 1.0 - reached * (share * left + (1.0 - share) * beside)
        yield _step(action, reached * share * before, _success(before, left), cured)
        before = left


def _end(order: Order) -> float:
    """Return the probability that an order changes nothing."""
    return order.failing[-1] if order.failing else 1.0


def _success(before: float, after: float) -> float:
    """Return the probability of a cure, given that all before failed."""
    return min(1.0, max(0.0, 1.0 - after / before)) if before > 0.0 else 0.0


def _step(action: Action, reached: float, success: float, cured: float) -> Step:
    """Return an action as a step."""
    return Step(
        action=action.id,
        kind=action.kind,
        minutes=action.minutes,
        wait_minutes=action.wait_minutes,
        money=action.money,
        reached=reached,
        success=success,
        cured_so_far=cured,
    )


def _safety_actions(
    knowledge: Knowledge,
    posterior: Posterior,
    evidence: Evidence,
    read: Collection[str],
    steps: Sequence[Action],
) -> tuple[Action, ...]:
    """Return the safety steps the case needs; all of them when a danger has none of its own."""
    raised = set(read)
    for seen in evidence.observations:
        danger = knowledge.findings[seen.finding].danger
        if danger and seen.if_present > seen.if_absent:
            raised.add(danger)
    suspected = {name for name, chance in posterior.chances.items() if chance >= SUSPECTED}
    network = knowledge.network
    for fault in suspected:
        row = network.link[network.fault_at[fault]]
        raised |= {name for at, name in network.dangerous.items() if row[at] >= DANGEROUS_LINK}
    cautions = {knowledge.dangers[danger].caution for danger in raised}
    fitting = tuple(
        action
        for action in steps
        if cautions.intersection(action.cautions) or suspected.intersection(action.faults)
    )
    return fitting or (tuple(steps) if raised else ())
