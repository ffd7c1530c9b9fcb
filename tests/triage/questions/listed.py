"""What a repair costs, by listing all sets of faults and all orders of remedies.

Plain Python from the definitions, without the engine's beliefs, prices or search.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import permutations

from triage.evidence import Evidence, Observation
from triage.inference import compute_joint, list_fault_sets
from triage.knowledge import Action, Knowledge

Faults = frozenset[str]


def list_joint(knowledge: Knowledge, evidence: Evidence) -> dict[Faults, float]:
    """Return the probability of each set of faults."""
    names = list(knowledge.faults)
    sets = [
        frozenset(name for name, there in zip(names, row, strict=True) if there)
        for row in list_fault_sets(knowledge).tolist()
    ]
    return dict(zip(sets, compute_joint(knowledge, evidence).tolist(), strict=True))


def cost_of_order(joint: Mapping[Faults, float], order: Sequence[Action], last: float) -> float:
    """Return the expected cost of remedies in an order, the last resort included."""
    left = dict(joint)
    total = 0.0
    for action in order:
        total += sum(left.values()) * action.minutes
        for faults in left:
            for fault in faults:
                left[faults] *= 1.0 - action.cures.get(fault, 0.0)
    return total + sum(left.values()) * last


def list_orders(actions: Sequence[Action]) -> Iterator[tuple[Action, ...]]:
    """Yield every order of every choice of actions."""
    for count in range(len(actions) + 1):
        yield from permutations(actions, count)


def best_cost(joint: Mapping[Faults, float], actions: Sequence[Action], last: float) -> float:
    """Return the cost of the cheapest of all orders."""
    return min(cost_of_order(joint, order, last) for order in list_orders(actions))


def value_of(
    knowledge: Knowledge, evidence: Evidence, findings: Sequence[str], last: float
) -> float:
    """Return what the answers to some questions together save, in minutes: never below 0."""
    actions = list(knowledge.actions.values())
    now = best_cost(list_joint(knowledge, evidence), actions, last)
    return now - sum(
        chance * best_cost(list_joint(knowledge, after), actions, last)
        for chance, after in list_answers(knowledge, evidence, findings)
    )


def list_answers(
    knowledge: Knowledge, evidence: Evidence, findings: Sequence[str]
) -> Iterator[tuple[float, Evidence]]:
    """Yield the probability of each combination of answers, and the evidence after it."""
    if not findings:
        yield 1.0, evidence
        return
    present = chance_of(knowledge, evidence, findings[0])
    for state, chance in (("present", present), ("absent", 1.0 - present)):
        seen = Observation(findings[0], state)  # type: ignore[arg-type]
        after = replace(evidence, observations=(*evidence.observations, seen))
        for share, last in list_answers(knowledge, after, findings[1:]):
            yield chance * share, last


def chance_of(knowledge: Knowledge, evidence: Evidence, finding: str) -> float:
    """Return the probability that a finding is there."""
    absent = 0.0
    for faults, chance in list_joint(knowledge, evidence).items():
        for link in knowledge.links:
            if link.finding == finding and link.fault in faults:
                chance *= 1.0 - link.p
        absent += chance * (1.0 - knowledge.findings[finding].leak)
    return 1.0 - absent
