"""Measures what a way of ordering remedies costs beside the best order there is.

Run ``python tests/benchmarks/bench_plan.py [--networks N] [--faults N]``. Small networks are drawn,
and cases from them; every order is valued under the exact joint probability of the faults, the
remedies left to themselves until one of them helps, the last resort included. With eight remedies
the best order is found by going through all sets, so nothing here is compared with a guess.
Then the time of plans and prices on the whole network, in processor time of one core.
"""

import argparse
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from statistics import fmean, median
from time import process_time

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.bench_engine import pick_evidence  # noqa: E402  as below
from tests.triage.draws import (  # noqa: E402  run as a script, the checkout is not on the path before
    Habits,
    draw_case,
)
from tests.triage.networks import make_action, make_network  # noqa: E402  as above
from triage import (  # noqa: E402  as above
    Knowledge,
    Posterior,
    compute_posterior,
    load_knowledge,
    plan_repair,
)
from triage.repair import (  # noqa: E402  as above
    Joint,
    Order,
    Remedies,
    as_independent,
    evaluate_order,
    find_order,
    open_remedies,
    price_beliefs,
    quick_order,
)

REMEDIES = 8
CASES = 5  # of each network
STATES = 120  # beliefs priced at once, about those of sixty questions
TIMED = 20  # cases of 10 present, 30 absent and 10 doubtful findings
HABITS = Habits(looked=7, doubtful=2, risks=0, tried=0, process_unknown=0.0)


def draw_network(generator: np.random.Generator, faults: int) -> Knowledge:
    """Return a network whose faults share findings and whose remedies share faults."""
    findings = faults + 2
    links = {
        (fault, int(finding)): float(generator.uniform(0.3, 0.95))
        for fault in range(faults)
        for finding in generator.choice(findings, 3, replace=False)
    }
    actions = [
        make_action(
            f"a{at}",
            minutes=float(generator.uniform(2.0, 90.0)),
            cures={
                f"f{fault}": float(generator.uniform(0.3, 0.95))
                for fault in generator.choice(faults, generator.integers(1, 4), replace=False)
            },
        )
        for at in range(REMEDIES)
    ]
    # However many faults can occur, about as many are there at once.
    priors = (generator.uniform(0.01, 0.2, faults) * 8 / faults).tolist()
    return make_network(
        priors, generator.uniform(0.01, 0.1, findings).tolist(), links, actions=actions
    )


def order_once(posterior: Posterior, remedies: Remedies) -> Order:
    """Return the order by success over cost taken once, cut where it is best."""
    belief = as_independent(list(posterior.chances.values()))
    success = 1.0 - belief.failing(1.0 - remedies.trials.cure)
    places = np.argsort(-success / remedies.trials.cost, kind="stable").tolist()
    orders = (
        evaluate_order(belief, remedies.trials, places[:size], last_resort=remedies.last_resort)
        for size in range(len(places) + 1)
    )
    return min(orders, key=lambda order: order.cost)


def order_recomputed(posterior: Posterior, remedies: Remedies) -> Order:
    """Return the order by success over cost, re-computed, faults taken as independent."""
    belief = as_independent(list(posterior.chances.values()))
    return quick_order(belief, remedies.trials, last_resort=remedies.last_resort, limit=REMEDIES)


def search_independent(posterior: Posterior, remedies: Remedies) -> Order:
    """Return the best order if the faults were independent."""
    belief = as_independent(list(posterior.chances.values()))
    return find_order(belief, remedies.trials, last_resort=remedies.last_resort)


def search_mixture(posterior: Posterior, remedies: Remedies) -> Order:
    """Return the best order under the mixture by the likeliest fault that is there."""
    belief = Joint.of(posterior).split()
    return find_order(belief, remedies.trials, last_resort=remedies.last_resort)


WAYS: Mapping[str, Callable[[Posterior, Remedies], Order]] = {
    "success over cost, once": order_once,
    "success over cost, re-computed": order_recomputed,
    "all sets, faults independent": search_independent,
    "all sets, mixture": search_mixture,
}


def time_steps(knowledge: Knowledge) -> str:
    """Return the median time of a plan and of pricing many beliefs."""
    plans, prices = [], []
    for case in range(TIMED):
        evidence = pick_evidence(knowledge, 10, 30, 10, case)
        posterior = compute_posterior(knowledge, evidence)
        remedies = open_remedies(knowledge, posterior, evidence)
        states = np.tile(list(posterior.chances.values()), (STATES, 1))
        marks = [process_time()]
        plan_repair(knowledge, posterior, evidence=evidence)
        marks.append(process_time())
        price_beliefs(remedies, states)
        marks.append(process_time())
        plans.append((marks[1] - marks[0]) * 1000.0)
        prices.append((marks[2] - marks[1]) * 1000.0)
    return (
        f"whole network: plan {median(plans):.1f} ms (most {max(plans):.1f}), "
        f"{STATES} beliefs priced in {median(prices):.1f} ms (most {max(prices):.1f})"
    )


def main() -> None:
    """Print how much each way costs beyond the best order, and how wrong its own figure is."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--networks", type=int, default=200)
    parser.add_argument("--faults", type=int, default=8)
    given = parser.parse_args()
    generator = np.random.default_rng(20261125)
    beyond: dict[str, list[float]] = {name: [] for name in WAYS}
    wrong: dict[str, list[float]] = {name: [] for name in WAYS}
    best: list[float] = []
    for _ in range(given.networks):
        knowledge = draw_network(generator, given.faults)
        for _ in range(CASES):
            evidence = draw_case(knowledge, generator, HABITS).evidence
            posterior = compute_posterior(knowledge, evidence)
            remedies = open_remedies(knowledge, posterior, evidence)
            joint, last = Joint.of(posterior), remedies.last_resort
            best.append(find_order(joint, remedies.trials, last_resort=last).cost)
            for name, way in WAYS.items():
                found = way(posterior, remedies)
                true = evaluate_order(joint, remedies.trials, found.places, last_resort=last)
                beyond[name].append(true.cost - best[-1])
                wrong[name].append(abs(found.cost - true.cost))
    out = sys.stdout.write
    out(f"{len(best)} cases; the best order costs {fmean(best):.1f} minutes on average\n")
    for name in WAYS:
        out(
            f"{name}: {fmean(beyond[name]):.3f} minutes more (most {max(beyond[name]):.1f}); "
            f"its own figure is off by {fmean(wrong[name]):.2f}\n"
        )
    out(time_steps(load_knowledge()) + "\n")


if __name__ == "__main__":
    main()
