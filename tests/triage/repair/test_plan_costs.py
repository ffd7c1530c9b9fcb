"""What a plan costs, against orders valued by listing all sets of faults."""

import itertools
from collections.abc import Iterator, Sequence

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.triage.networks import make_action, make_evidence, make_network
from triage.evidence import Evidence
from triage.inference import compute_joint, compute_posterior, list_fault_sets
from triage.knowledge import Knowledge
from triage.repair import LAST_RESORT_MINUTES, Plan, cost_of, plan_repair

CHANCE = st.floats(0.02, 0.9)
PATIENT = settings(
    deadline=None, max_examples=40, suppress_health_check=[HealthCheck.too_slow]
)  # a busy machine is no failure of ours
LIMIT = 8


@st.composite
def cases(draw: st.DrawFn, most_actions: int) -> tuple[Knowledge, Evidence]:
    """Return a small network with overlapping, imperfect, waiting remedies, and evidence."""
    faults = draw(st.integers(1, 5))
    findings = 4
    pairs = st.tuples(st.integers(0, faults - 1), st.integers(0, findings - 1))
    actions = [
        make_action(
            f"a{at:02}",
            minutes=draw(st.floats(0.5, 200.0)),
            wait_minutes=draw(st.sampled_from([0.0, 30.0, 600.0])),
            money=draw(st.sampled_from([0.0, 2.0, 40.0])),
            cures={
                f"f{fault}": draw(CHANCE)
                for fault in draw(st.sets(st.integers(0, faults - 1), min_size=1, max_size=3))
            },
            after=tuple(
                f"a{other:02}"
                for other in (draw(st.sets(st.integers(0, at - 1), max_size=1)) if at else ())
            ),
        )
        for at in range(draw(st.integers(1, most_actions)))
    ]
    network = make_network(
        draw(st.lists(st.floats(0.01, 0.5), min_size=faults, max_size=faults)),
        draw(st.lists(st.floats(0.01, 0.2), min_size=findings, max_size=findings)),
        draw(st.dictionaries(pairs, CHANCE, max_size=10)),
        actions=actions,
    )
    looked = draw(st.lists(st.booleans(), max_size=findings))
    return network, make_evidence(
        present=[at for at, there in enumerate(looked) if there],
        absent=[at for at, there in enumerate(looked) if not there],
    )


class Listing:
    """All sets of faults of a case with their probability; values orders of remedies."""

    def __init__(self, knowledge: Knowledge, evidence: Evidence) -> None:
        self.knowledge = knowledge
        self.actions = list(knowledge.actions.values())
        self.joint = compute_joint(knowledge, evidence)
        sets = list_fault_sets(knowledge)
        # How probably each remedy leaves each set as it is, shape (actions, sets).
        self.fails = np.array(
            [np.where(sets, 1.0 - row, 1.0).prod(axis=1) for row in knowledge.network.cure]
        )

    def cost(self, order: Sequence[int]) -> float:
        """Return the expected cost of an order with the last resort at its end."""
        left, total = self.joint, 0.0
        for at in order:
            total += float(left.sum()) * cost_of(self.actions[at])
            left = left * self.fails[at]
        return total + float(left.sum()) * LAST_RESORT_MINUTES

    def waits(self, at: int, others: Sequence[int]) -> bool:
        """Return whether an action comes after one of the others."""
        return any(self.actions[other].id in self.actions[at].after for other in others)

    def all_orders(self) -> Iterator[tuple[int, ...]]:
        """Yield all orders of all subsets in which nothing stands before what it comes after."""
        for size in range(len(self.actions) + 1):
            for order in itertools.permutations(range(len(self.actions)), size):
                if not any(self.waits(at, order[place:]) for place, at in enumerate(order)):
                    yield order

    def by_ratio(self) -> list[int]:
        """Return all actions by success over cost, each once those it comes after are done."""
        success = 1.0 - self.fails @ self.joint
        left, order = list(range(len(self.actions))), []
        while left:
            ready = [at for at in left if not self.waits(at, left)]
            order.append(max(ready, key=lambda at: (success[at] / cost_of(self.actions[at]), -at)))
            left.remove(order[-1])
        return order


def plan_for(knowledge: Knowledge, evidence: Evidence) -> Plan:
    """Return the plan for a case."""
    posterior = compute_posterior(knowledge, evidence)
    return plan_repair(knowledge, posterior, evidence=evidence, limit=LIMIT)


@PATIENT
@given(cases(most_actions=5))
def test_a_plan_of_few_remedies_is_the_cheapest_of_all(case: tuple[Knowledge, Evidence]) -> None:
    """Several faults that explain each other away: no order of any subset costs less."""
    plan = plan_for(*case)
    listing = Listing(*case)

    least = min(listing.cost(order) for order in listing.all_orders())

    assert plan.expected_cost == pytest.approx(least, rel=1e-9)
    places = [case[0].network.action_at[step.action] for step in plan.steps]
    assert listing.cost(places) == pytest.approx(plan.expected_cost, rel=1e-9)


@PATIENT
@given(cases(most_actions=20))
def test_a_plan_is_never_dearer_than_success_over_cost(case: tuple[Knowledge, Evidence]) -> None:
    """However many remedies, cut wherever that order is cheapest; nor than the last resort."""
    plan = plan_for(*case)
    listing = Listing(*case)
    simple = listing.by_ratio()

    costs = [listing.cost(simple[:size]) for size in range(min(LIMIT, len(simple)) + 1)]

    assert plan.expected_cost <= min(costs) * (1.0 + 1e-9)
    assert plan.expected_cost <= LAST_RESORT_MINUTES * (1.0 + 1e-9)


@PATIENT
@given(cases(most_actions=20))
def test_the_figures_of_a_plan_fit_each_other(case: tuple[Knowledge, Evidence]) -> None:
    """Reached, success and cured are those of the listing; the weighted sum is the cost."""
    plan = plan_for(*case)
    listing = Listing(*case)

    left = listing.joint
    for step in plan.steps:
        at = case[0].network.action_at[step.action]
        before, left = float(left.sum()), left * listing.fails[at]
        assert step.reached == pytest.approx(before, rel=1e-6, abs=1e-9)
        assert step.success == pytest.approx(1.0 - float(left.sum()) / before, rel=1e-6, abs=1e-9)
        assert step.cured_so_far == pytest.approx(1.0 - float(left.sum()), rel=1e-6, abs=1e-9)
    assert plan.last_resort.reached == pytest.approx(float(left.sum()), rel=1e-6, abs=1e-9)
    weighted = plan.expected_minutes + 0.1 * plan.expected_wait_minutes + 5.0 * plan.expected_money
    weighted += plan.last_resort.reached * LAST_RESORT_MINUTES
    assert plan.expected_cost == pytest.approx(weighted, rel=1e-9)
