"""Measures learning: how far lessons bring the network from the expert's numbers to the truth.

Run ``python tests/benchmarks/bench_learning.py [--cases N] [--held N] [--seeds N] [--spread S]``.
The truth is the expert's knowledge with noise on the log odds of every number; a clinic that is
not there makes lessons of its cases (tests/triage/lessons.py). Losses are bits a case, summed over
its faults, on cases that were not learned from, with bootstrap intervals. "Missed" is the share of
true faults given less than 1 %, "underrated" the mean error of the log odds of those priors that
the expert has too low.
"""

import argparse
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from time import process_time

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.triage.lessons import (  # noqa: E402  run as a script, the checkout is not on the path
    CAREFUL,
    CREDULOUS,
    REALISTIC,
    Clinic,
    DrawnLesson,
    draw_lessons,
    perturb,
    root_mean_square,
)
from triage import Knowledge, compute_posterior, load_knowledge  # noqa: E402  as above
from triage.learning import (  # noqa: E402  as above
    BASIS_WEIGHT,
    Lesson,
    learn,
    revise,
    score_forecast,
    score_prequential,
)
from triage.scoring import bootstrap  # noqa: E402  as above

KINDS = ("prior", "link", "leak", "cure")
RESAMPLES = 2000
HOPELESS = 0.01  # a fault given less will not be looked for
BLOCKS = 8  # times the network in use is renewed in the scenario of feedback
ACCEPTED_WEIGHTS = (0.0, 0.1, 0.2, 1.0)
CONFIRMED_WEIGHTS = (0.3, 0.6, 1.0)
# Every suggestion is accepted, and one effect in five is told: nothing else judges the network.
UNCHECKED = replace(CREDULOUS, accepts=1.0, follows=0.2)
ERRING = replace(REALISTIC, accepts=0.0, errs=0.3)


@dataclass(frozen=True, slots=True)
class Result:
    """One network on the cases held out.

    `bits` a case each; `hits`: whether its first fault is one of the true ones; `missed`: the share
    of true faults it gives less than `HOPELESS`.
    """

    bits: np.ndarray
    hits: np.ndarray
    missed: float


def judge(network: Knowledge, held: Sequence[DrawnLesson]) -> Result:
    """Return how well a network forecasts the faults of the cases held out."""
    bits, hits, missed = [], [], []
    for case in held:
        posterior = compute_posterior(network, case.evidence)
        bits.append(score_forecast(posterior, case.faults).bits)
        hits.append(posterior.ranked[0].id in case.faults)
        missed += [posterior.probability(fault) < HOPELESS for fault in case.faults]
    return Result(np.array(bits), np.array(hits), float(np.mean(missed)))


def underrate(network: Knowledge, expert: Knowledge, truth: Knowledge) -> float:
    """Return the mean error of log odds of the priors that the expert has too low."""
    odds = [np.log(k.network.prior / (1.0 - k.network.prior)) for k in (network, expert, truth)]
    return float((odds[0] - odds[2])[odds[1] < odds[2]].mean())


def interval(values: np.ndarray) -> str:
    """Return a mean with its bootstrap interval of 95 %."""
    generator = np.random.default_rng(1)
    picks = generator.integers(len(values), size=(RESAMPLES, len(values)))
    figure = bootstrap(float(values.mean()), values[picks].mean(axis=1))
    return f"{figure.value:+.3f} [{figure.low:+.3f}, {figure.high:+.3f}]"


def say(*cells: str, widths: Sequence[int]) -> None:
    """Print one row of a table."""
    row = "  ".join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True))
    sys.stdout.write(row.rstrip() + "\n")
    sys.stdout.flush()


def compare_clinics(expert: Knowledge, count: int, held_count: int, spread: float) -> None:
    """Print what lessons of several clinics bring."""
    generator = np.random.default_rng(1)
    truth = perturb(expert, generator, spread)
    held = list(draw_lessons(truth, expert, generator, held_count))
    base, best = judge(expert, held), judge(truth, held)
    gap = base.bits.mean() - best.bits.mean()
    widths = (34, 6, 5, 24, 6, 46)
    say("network", "bits", "hit@1", "saved against expert", "of gap", "spread left", widths=widths)

    def report(name: str, network: Knowledge, result: Result) -> None:
        saved = base.bits - result.bits
        left = " ".join(f"{kind} {root_mean_square(truth, network, kind):.2f}" for kind in KINDS)
        share = f"{saved.mean() / gap:.0%}"
        bits, hits = f"{result.bits.mean():.3f}", f"{result.hits.mean():.3f}"
        say(name, bits, hits, interval(saved), share, left, widths=widths)

    report("expert", expert, base)
    report("truth", truth, best)
    for name, clinic in (
        ("careful clinic", CAREFUL),
        ("realistic clinic", REALISTIC),
        ("unchecked clinic", UNCHECKED),
    ):
        drawn = [row.lesson for row in draw_lessons(truth, expert, generator, count, clinic)]
        started = process_time()
        learned = revise(expert, learn(expert, drawn))
        spent = process_time() - started
        report(f"{name}, {count} lessons", learned, judge(learned, held))
        sys.stdout.write(f"  learned in {spent:.2f} s of processor time\n")
        if clinic is not UNCHECKED:
            started = process_time()
            before = score_prequential(expert, drawn)
            sys.stdout.write(
                f"  prequential: expert {before.expert.bits:.3f}, learned {before.learned.bits:.3f}"
                f" bits over {len(before.foreseen)} lessons, {process_time() - started:.1f} s\n"
            )


def run_loop(
    expert: Knowledge,
    truth: Knowledge,
    clinic: Clinic,
    weights: Mapping[str, float],
    seed: int,
    count: int,
) -> Knowledge:
    """Return the network after it made the suggestions that it then learned from."""
    generator = np.random.default_rng(seed)
    guide = expert
    lessons: list[Lesson] = []
    for block in range(BLOCKS):
        for row in draw_lessons(truth, guide, generator, count // BLOCKS, clinic):
            lessons.append(replace(row.lesson, id=f"{block}-{row.lesson.id}"))
        guide = revise(expert, learn(expert, lessons, weights=weights))
    return guide


def compare_weights(
    expert: Knowledge, count: int, held_count: int, spread: float, seeds: int
) -> None:
    """Print what each weight of a basis does where the network makes its own lessons."""
    scenarios = [
        *(("credulous", CREDULOUS, "accepted", value) for value in ACCEPTED_WEIGHTS),
        *(("realistic", REALISTIC, "accepted", value) for value in ACCEPTED_WEIGHTS),
        *(("unchecked", UNCHECKED, "accepted", value) for value in ACCEPTED_WEIGHTS),
        *(("erring 30 %", ERRING, "confirmed", value) for value in CONFIRMED_WEIGHTS),
    ]
    rows: list[list[tuple[Result, float]]] = [[] for _ in scenarios]
    saved: list[list[np.ndarray]] = [[] for _ in scenarios]
    before: list[tuple[Result, float]] = []
    for seed in range(1, seeds + 1):
        generator = np.random.default_rng(seed)
        truth = perturb(expert, generator, spread)
        held = list(draw_lessons(truth, expert, generator, held_count))
        base = judge(expert, held)
        before.append((base, underrate(expert, expert, truth)))
        for at, (_, clinic, basis, value) in enumerate(scenarios):
            weights = {**BASIS_WEIGHT, basis: value}
            network = run_loop(expert, truth, clinic, weights, seed + 100, count)
            result = judge(network, held)
            rows[at].append((result, underrate(network, expert, truth)))
            saved[at].append(base.bits - result.bits)
    widths = (28, 24, 12, 12)
    say("clinic, weight", "bits saved", "missed", "underrated", widths=widths)
    say("expert", "", *_two_means(before), widths=widths)
    for at, (name, _, basis, value) in enumerate(scenarios):
        label = f"{name}, {basis} = {value:g}"
        say(label, interval(np.concatenate(saved[at])), *_two_means(rows[at]), widths=widths)


def _two_means(rows: Sequence[tuple[Result, float]]) -> tuple[str, str]:
    """Return the mean share of true faults missed, and how far underrated priors are too low."""
    missed = np.mean([result.missed for result, _ in rows])
    return f"{missed:.1%}", f"{np.mean([low for _, low in rows]):+.2f}"


def main() -> None:
    """Print all tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=2000, help="lessons to learn from")
    parser.add_argument("--held", type=int, default=1000, help="cases held out")
    parser.add_argument("--seeds", type=int, default=3, help="truths drawn for the weights")
    parser.add_argument("--spread", type=float, default=0.7, help="noise of the log odds")
    chosen = parser.parse_args()
    expert = load_knowledge()
    compare_clinics(expert, chosen.cases, chosen.held, chosen.spread)
    sys.stdout.write(f"\nThe network makes its own lessons, renewed {BLOCKS} times:\n")
    compare_weights(expert, chosen.cases, chosen.held // 2, chosen.spread, chosen.seeds)


if __name__ == "__main__":
    main()
