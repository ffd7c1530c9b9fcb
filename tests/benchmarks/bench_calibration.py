"""Measures how well probabilities are kept: of what is called 30 % likely, 30 % should come true.

Run ``python tests/benchmarks/bench_calibration.py [--cases N] [--seed S]``. Cases are drawn from
the shipped network itself (tests/triage/draws.py), so that any error is one of inference, not of
the knowledge: faults by their priors, findings by the noisy-OR, some of it looked at, some with
doubt, some only told, now and then a remedy tried or the process unknown. One core, about 3 ms a
case.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.triage.draws import draw_cases  # noqa: E402  run as a script, see bench_triage.py
from triage import compute_posterior, list_explanations, load_knowledge  # noqa: E402
from triage.knowledge._model import Bools, Floats  # noqa: E402
from triage.workings.forecasts import (  # noqa: E402
    brier_score,
    calibration_error,
    reliability_table,
)

WANTED = 0.02  # expected calibration error


def main() -> int:
    """Print the measures; return 1 when one is above what is wanted."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    knowledge = load_knowledge()
    every: list[Floats] = []
    truth: list[Bools] = []
    first: list[float] = []
    first_true: list[bool] = []
    best: list[float] = []
    best_true: list[bool] = []
    for case in draw_cases(knowledge, options.seed, options.cases):
        posterior = compute_posterior(knowledge, case.evidence)
        chances = np.array(list(posterior.chances.values()))
        possible = chances > 0.0
        every.append(chances[possible])
        truth.append(np.array([name in case.faults for name in posterior.chances])[possible])
        first.append(posterior.ranked[0].probability)
        first_true.append(posterior.ranked[0].id in case.faults)
        (found,) = list_explanations(knowledge, posterior, limit=1).sets
        best.append(found.probability)
        best_true.append(set(found.faults) == case.faults)
    passed = [
        report("every possible fault", np.concatenate(truth), np.concatenate(every)),
        report("the first suspicion", first_true, first),
        report("the best set of faults is all there is", best_true, best),
    ]
    return 0 if all(passed) else 1


def report(name: str, happened: Sequence[bool] | Bools, chances: Sequence[float] | Floats) -> bool:
    """Print one reliability table; return whether its calibration error is as wanted."""
    out = sys.stdout.write
    error = calibration_error(happened, chances)
    out(f"\n{name}: {len(chances)} forecasts, expected calibration error {error:.4f}, ")
    out(f"Brier score {brier_score(happened, chances):.4f} (wanted: error below {WANTED})\n")
    out("  forecast        count    mean   came true\n")
    for row in reliability_table(happened, chances):
        out(f"  {row.low:.1f} to {row.high:.1f} {row.count:10d}   {row.forecast:.3f}   ")
        out(f"{row.observed:.3f}\n")
    return error < WANTED


if __name__ == "__main__":
    sys.exit(main())
