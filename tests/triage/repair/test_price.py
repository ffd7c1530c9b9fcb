"""Prices of many beliefs at once, against one belief at a time in plain loops."""

import numpy as np
import pytest

from triage.knowledge._model import Floats
from triage.repair import Remedies, make_trials, price_beliefs

LAST_RESORT = 480.0


def draw_remedies(generator: np.random.Generator, *, faults: int, count: int) -> Remedies:
    """Return remedies of one to three faults each, some of which wait for another."""
    cure = np.zeros((count, faults))
    for row in cure:
        cures = generator.choice(faults, generator.integers(1, 4), replace=False)
        row[cures] = generator.uniform(0.2, 1.0, len(cures))
    after = [{at - 1} if at % 5 == 4 else set[int]() for at in range(count)]
    trials = make_trials(cure, generator.uniform(1.0, 90.0, count), after)
    return Remedies(np.arange(count), trials, LAST_RESORT)


def draw_beliefs(
    generator: np.random.Generator, *, states: int, parts: int, faults: int
) -> tuple[Floats, Floats]:
    """Return chances and weights of some mixtures, with faults that are surely there or not."""
    chances = generator.uniform(0.0, 1.0, (states, parts, faults)) ** 3
    chances[generator.random(chances.shape) < 0.2] = 0.0
    chances[generator.random(chances.shape) < 0.05] = 1.0
    weight = generator.uniform(0.1, 1.0, (states, parts))
    return chances, weight / weight.sum(axis=1, keepdims=True)


def price_one(remedies: Remedies, chances: Floats, weight: Floats, steps: int = 8) -> float:
    """Return the price of one belief: success over cost, re-computed, cut where it is best."""
    trials = remedies.trials
    rest = np.ones(trials.cure.shape[1])

    def failing(rest: Floats) -> float:
        return float(weight @ np.prod(1 - chances * (1 - rest), axis=1))

    waiting = list(range(len(trials.cost)))
    spent, best = 0.0, LAST_RESORT
    for _ in range(min(steps, len(waiting))):
        now = failing(rest)
        ready = [at for at in waiting if not any(trials.after[at, other] for other in waiting)]
        chosen = max(
            ready, key=lambda at: (now - failing(rest * (1 - trials.cure[at]))) / trials.cost[at]
        )
        waiting.remove(chosen)
        spent += now * trials.cost[chosen]
        rest = rest * (1 - trials.cure[chosen])
        best = min(best, spent + failing(rest) * LAST_RESORT)
    return best


@pytest.mark.parametrize("parts", [1, 3])
@pytest.mark.parametrize("seed", range(5))
def test_prices_of_few_remedies_are_those_of_plain_loops(parts: int, seed: int) -> None:
    """All states at once cost what each costs alone, mixtures and certain faults included."""
    generator = np.random.default_rng(seed)
    remedies = draw_remedies(generator, faults=7, count=10)
    chances, weight = draw_beliefs(generator, states=12, parts=parts, faults=7)

    found = price_beliefs(remedies, chances, weight)

    expected = [price_one(remedies, *state) for state in zip(chances, weight, strict=True)]
    assert found == pytest.approx(expected, rel=1e-9)


def test_other_states_do_not_change_a_price() -> None:
    """Each state has the remedies that promise most in it, whatever is priced beside it.

    Sixty faults with a remedy each, and a state for each of them: no choice of a few remedies
    would do for all.
    """
    generator = np.random.default_rng(3)
    faults = 60
    trials = make_trials(np.eye(faults) * 0.9, generator.uniform(1.0, 60.0, faults))
    remedies = Remedies(np.arange(faults), trials, LAST_RESORT)
    states = np.full((faults, faults), 0.002) + np.eye(faults) * 0.9

    together = price_beliefs(remedies, states)

    alone = [price_beliefs(remedies, state[None])[0] for state in states]
    by_loops = [price_one(remedies, state[None], np.ones(1)) for state in states]
    assert together == pytest.approx(alone, rel=1e-12)
    assert together == pytest.approx(by_loops, rel=0.01)
