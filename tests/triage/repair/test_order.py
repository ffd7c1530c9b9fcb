"""The order of least cost: exact on small cases, never worse than the simple orders on any."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.triage.networks import make_action, make_evidence, make_network
from triage.errors import OutOfRangeError
from triage.inference import compute_joint, compute_posterior, list_fault_sets
from triage.knowledge._model import Floats
from triage.repair import (
    Belief,
    Joint,
    Trials,
    as_independent,
    as_one_cause,
    evaluate_order,
    find_order,
    make_trials,
    open_remedies,
    order_by_ratio,
    price_beliefs,
    quick_order,
)

CHANCE = st.floats(0.01, 0.9)
LAST = 200.0


@st.composite
def repair_tasks(draw: st.DrawFn, most_actions: int = 6) -> tuple[Belief, Trials, float]:
    """Return a belief of several parts, overlapping and imperfect remedies, and a last resort."""
    faults = draw(st.integers(1, 5))
    actions = draw(st.integers(1, most_actions))
    parts = draw(st.integers(1, 3))
    weight = np.array(draw(st.lists(CHANCE, min_size=parts, max_size=parts)))
    row = st.lists(CHANCE, min_size=faults, max_size=faults)
    chances = np.array(draw(st.lists(row, min_size=parts, max_size=parts)))
    cured = st.lists(
        st.one_of(st.just(0.0), st.just(1.0), CHANCE), min_size=faults, max_size=faults
    )
    cure = draw(st.lists(cured, min_size=actions, max_size=actions))
    cost = draw(st.lists(st.floats(0.5, 60.0), min_size=actions, max_size=actions))
    # An action may wait for any of those before it, so that no ring can form.
    after = [
        draw(st.sets(st.integers(0, at - 1), max_size=1)) if at else set() for at in range(actions)
    ]
    last = draw(st.sampled_from([30.0, LAST, 2000.0]))
    return Belief(weight / weight.sum(), chances), make_trials(cure, cost, after), last


def _allowed(trials: Trials, order: tuple[int, ...]) -> bool:
    """Return whether no action of the order stands before one it comes after."""
    return not any(
        trials.after[first, later] for at, first in enumerate(order) for later in order[at + 1 :]
    )


def _cheapest_listed(belief: Belief, trials: Trials, last_resort: float) -> float:
    """Return the least cost over all orders of all subsets."""
    count = len(trials.cost)
    return min(
        evaluate_order(belief, trials, order, last_resort=last_resort).cost
        for size in range(count + 1)
        for order in itertools.permutations(range(count), size)
        if _allowed(trials, order)
    )


@given(repair_tasks())
@settings(max_examples=60, deadline=None)
def test_find_order_is_the_cheapest_of_all_orders(task: tuple[Belief, Trials, float]) -> None:
    """Overlapping, imperfect remedies, several faults and order constraints, all listed."""
    belief, trials, last_resort = task

    found = find_order(belief, trials, last_resort=last_resort)

    assert found.is_exact
    assert _allowed(trials, found.places)
    assert found.cost == pytest.approx(_cheapest_listed(belief, trials, last_resort))


@given(repair_tasks(most_actions=24))
@settings(max_examples=80, deadline=None)
def test_find_order_never_costs_more_than_success_over_cost(
    task: tuple[Belief, Trials, float],
) -> None:
    """However many remedies: not dearer than p/c, once or re-computed, cut where it is best."""
    belief, trials, last_resort = task
    free = Trials(trials.cure, trials.cost, np.zeros_like(trials.after))
    ratio = (1.0 - belief.failing(1.0 - free.cure)) / free.cost
    once = tuple(np.argsort(-ratio, kind="stable").tolist())

    found = find_order(belief, free, last_resort=last_resort)

    for order in (once, _recomputed(belief, free)):
        for size in range(len(order) + 1):
            simple = evaluate_order(belief, free, order[:size], last_resort=last_resort)
            assert found.cost <= simple.cost + 1e-9
    assert found.cost <= last_resort + 1e-9


def _recomputed(belief: Belief, trials: Trials) -> tuple[int, ...]:
    """Return the order by success over cost, re-computed after each failure."""
    rest = np.ones(trials.cure.shape[1])
    order: list[int] = []
    while len(order) < len(trials.cost):
        now = belief.failing(rest[None])[0]
        success = now - belief.failing(rest * (1.0 - trials.cure))
        ratio = np.where(np.isin(np.arange(len(trials.cost)), order), -1.0, success / trials.cost)
        order.append(int(ratio.argmax()))
        rest = rest * (1.0 - trials.cure[order[-1]])
    return tuple(order)


@pytest.mark.source("kadane1977")
@given(st.lists(st.tuples(CHANCE, st.floats(0.5, 50.0)), min_size=1, max_size=7))
@settings(max_examples=50, deadline=None)
def test_one_cause_and_perfect_actions_give_the_order_by_ratio(
    pairs: list[tuple[float, float]],
) -> None:
    """With exactly one cause and an action for each, success over cost is the best order."""
    chances = np.array([chance for chance, _ in pairs])
    chances = chances / chances.sum()
    cost = [price for _, price in pairs]
    trials = make_trials(np.eye(len(pairs)), cost)

    found = find_order(as_one_cause(chances), trials)

    best = evaluate_order(as_one_cause(chances), trials, order_by_ratio(chances.tolist(), cost))
    assert found.cost == pytest.approx(best.cost)


def test_joint_belief_equals_the_listed_sets() -> None:
    """What outlasts some remedies, and what a look then says, against listing all sets."""
    network = make_network(
        [0.2, 0.3, 0.1],
        [0.05, 0.02],
        {(0, 0): 0.8, (1, 0): 0.6, (1, 1): 0.7, (2, 1): 0.5},
        actions=[make_action("a0", cures={"f0": 0.8, "f1": 0.4})],
    )
    evidence = make_evidence(present=(0,))
    posterior = compute_posterior(network, evidence)
    joint, sets = compute_joint(network, evidence), list_fault_sets(network)
    rest = 1.0 - network.network.cure[0]
    outlasted = joint * np.where(sets, rest, 1.0).prod(axis=1)
    absent = 0.98 * np.where(sets, 1.0 - network.network.link[:, 1], 1.0).prod(axis=1)

    reached, after = Joint.of(posterior).thinned(rest)
    chance, found, _ = after.answered(1.0 - network.network.link[:, 1], 0.02)

    there = outlasted * (1.0 - absent)
    assert reached == pytest.approx(outlasted.sum())
    assert chance == pytest.approx(there.sum() / outlasted.sum())
    expected = (there @ sets) / there.sum()
    assert found.split().marginal() == pytest.approx(expected)
    assert found.failing(rest[None])[0] == pytest.approx(
        (there * np.where(sets, rest, 1.0).prod(axis=1)).sum() / there.sum()
    )


def test_no_set_of_remedies_gives_no_probability() -> None:
    """Asked about no set at all, both beliefs answer with nothing."""
    network = make_network([0.2], [0.05], {(0, 0): 0.8})
    joint = Joint.of(compute_posterior(network, make_evidence(present=(0,))))

    assert joint.failing(np.ones((0, 1))).shape == (0,)
    assert joint.split().failing(np.ones((0, 1))).shape == (0,)


def test_price_is_that_of_an_order_and_never_above_the_last_resort() -> None:
    """Each state is priced by an order that can be followed, so no order found is dearer."""
    network = make_network(
        [0.2, 0.3, 0.1],
        [0.05],
        {(0, 0): 0.8, (1, 0): 0.6, (2, 0): 0.5},
        actions=[
            make_action("a0", cures={"f0": 0.8, "f1": 0.4}),
            make_action("a1", cures={"f1": 0.9}, minutes=25.0),
            make_action("a2", cures={"f2": 0.9}, minutes=3.0),
        ],
    )
    evidence = make_evidence()
    remedies = open_remedies(network, compute_posterior(network, evidence), evidence)
    states = np.array([[0.0, 0.0, 0.0], [0.9, 0.1, 0.0], [0.3, 0.3, 0.3], [1.0, 1.0, 1.0]])

    prices = price_beliefs(remedies, states)

    for state, price in zip(states, prices.tolist(), strict=True):
        best = find_order(as_independent(state), remedies.trials, last_resort=remedies.last_resort)
        assert best.cost - 1e-9 <= price <= remedies.last_resort + 1e-9
    assert prices[0] == pytest.approx(remedies.last_resort)


@pytest.mark.parametrize(
    ("cure", "cost", "message"),
    [
        ([[0.5], [0.5]], [1.0], "2 rows of cures and 1 costs"),
        ([[1.5]], [1.0], "must lie between 0 and 1"),
        ([[0.5]], [0.0], "cost 0 must be above 0"),
    ],
)
def test_impossible_actions_are_refused(
    cure: list[list[float]], cost: list[float], message: str
) -> None:
    """Shapes, probabilities and costs are checked, with the value in the message."""
    with pytest.raises(OutOfRangeError, match=message):
        make_trials(cure, cost)


def test_actions_that_must_all_be_done_and_wait_for_each_other_are_refused() -> None:
    """Without a last resort a ring leaves nothing to do."""
    trials = make_trials(np.eye(2), [1.0, 1.0], [{1}, {0}])

    with pytest.raises(OutOfRangeError, match="wait for each other"):
        find_order(as_one_cause([0.5, 0.5]), trials)


def test_beliefs_of_another_shape_are_refused() -> None:
    """The states must hold every fault."""
    network = make_network([0.2], [0.05], {(0, 0): 0.8}, actions=[make_action(cures={"f0": 0.5})])
    remedies = open_remedies(network, compute_posterior(network, make_evidence()), make_evidence())
    wrong: Floats = np.zeros((2, 3))

    with pytest.raises(OutOfRangeError, match="do not fit 1 faults"):
        price_beliefs(remedies, wrong)


@given(repair_tasks(most_actions=12))
@settings(max_examples=40, deadline=None)
def test_quick_order_is_success_over_cost_cut_where_it_is_best(
    task: tuple[Belief, Trials, float],
) -> None:
    """Re-computed after each failure; never cheaper than the search."""
    belief, trials, last_resort = task
    free = Trials(trials.cure, trials.cost, np.zeros_like(trials.after))

    found = quick_order(belief, free, last_resort=last_resort, limit=len(trials.cost))

    simple = _recomputed(belief, free)
    costs = [
        evaluate_order(belief, free, simple[:size], last_resort=last_resort).cost
        for size in range(len(simple) + 1)
    ]
    assert found.cost == pytest.approx(min(costs))
    best = find_order(belief, free, last_resort=last_resort)
    assert best.cost <= found.cost + 1e-9
    assert found.cost <= last_resort + 1e-9
