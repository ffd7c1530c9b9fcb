"""Measures how well shows are cut: with their run sheet, and without one.

Run ``python tests/benchmarks/bench_segmentation.py [--each N] [--seed S]``. Shows are invented
(tests/triage/captions/shows.py) in manners of presenting the model learned from, and in unseen ones
with other wording; only the latter count. Figures on invented shows flatter all the same: what is
told of each fault comes from the knowledge's own stories. Exits with 1 when, on unseen manners, a
goal is missed.
"""

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.benchmarks.segmentation_baselines import cut_by_cohesion, cut_equally  # noqa: E402
from tests.triage.captions.shows import Show, make_shows  # noqa: E402
from triage.captions import (  # noqa: E402
    Captions,
    CorrectedShow,
    CutModel,
    learn,
    load_cut_model,
    read_captions,
    segment,
)
from triage.knowledge import Knowledge, load_knowledge  # noqa: E402
from triage.workings.segmentation import count_near, mark_gaps, pk, window_diff  # noqa: E402

SEED = 11  # no setting was chosen by it
NEAR_CASE_S, NEAR_PART_S = 15.0, 10.0
DRAWS = 2000
GOALS = {"window_diff": 0.25, "case_starts": 0.70, "sheet": 0.90, "s_per_hour": 1.0}
LESSONS = 3  # corrected shows of a manner


@dataclass(frozen=True)
class Figures:
    """What was measured on one show; counts are of hits and of all."""

    style: str
    window_diff: float
    pk: float
    starts: tuple[int, int]
    as_case: tuple[int, int]
    sheet: tuple[int, int] = (0, 0)


def say(text: str) -> None:
    """Print at once."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def judge(show: Show, starts_s: Sequence[float], cases_s: Sequence[float]) -> Figures:
    """Return how a cut of a show compares with the true one."""
    true = mark_gaps([part.start_s for part in show.parts[1:]], end_s=show.end_s)
    found = mark_gaps(starts_s[1:], end_s=show.end_s)
    cases = [part.start_s for part in show.parts if part.kind == "case"]
    return Figures(
        show.style,
        window_diff(true, found),
        pk(true, found),
        (count_near(cases, starts_s, within_s=NEAR_CASE_S), len(cases)),
        (count_near(cases, cases_s, within_s=NEAR_CASE_S), len(cases)),
    )


def judge_cut(show: Show, captions: Captions, knowledge: Knowledge, model: CutModel) -> Figures:
    """Return the figures of the engine's cut without a run sheet."""
    found = segment(captions, knowledge=knowledge, model=model)
    cases = [part.start_s for part in found if part.kind == "case"]
    return judge(show, [part.start_s for part in found], cases)


def count_sheet(show: Show, captions: Captions, knowledge: Knowledge) -> tuple[int, int]:
    """Return how many planned parts that were shown start where they are found, and of how many."""
    found = segment(captions, knowledge=knowledge, run_sheet=show.run_sheet)
    at = {part.part: part.start_s for part in found if part.part is not None}
    pairs = [
        (part.start_s, at.get(place))
        for part, place in zip(show.parts, show.sheet_at, strict=True)
        if place is not None
    ]
    near = sum(s is not None and abs(s - true) <= NEAR_PART_S for true, s in pairs)
    return near, len(pairs)


def share(pairs: Sequence[tuple[int, int]]) -> float:
    """Return the hits of all together over all."""
    return sum(hit for hit, _ in pairs) / max(sum(total for _, total in pairs), 1)


def interval(figures: Sequence[Figures], name: str) -> str:
    """Return a mean or share with its 95 % interval by drawing shows anew."""
    rng = np.random.default_rng(1)
    values = [getattr(one, name) for one in figures]
    is_share = isinstance(values[0], tuple)
    table = np.array(values, dtype=float)
    draws = table[rng.integers(0, len(values), (DRAWS, len(values)))]
    if is_share:
        totals = draws.sum(axis=1)
        spread = totals[:, 0] / np.maximum(totals[:, 1], 1)
        middle = share(values)
    else:
        spread = draws.mean(axis=1)
        middle = float(table.mean())
    low, high = np.percentile(spread, [2.5, 97.5])
    return f"{middle:.3f} ({low:.3f}–{high:.3f})"


def print_rows(title: str, figures: Sequence[Figures]) -> None:
    """Print one line for each manner and one for all."""
    say(f"\n{title}")
    say(f"  {'manner':16}{'WindowDiff':>11}{'Pk':>7}{'starts':>8}{'as case':>9}{'sheet':>7}")
    for style in dict.fromkeys(one.style for one in figures):
        some = [one for one in figures if one.style == style]
        say(
            f"  {style:16}{np.mean([o.window_diff for o in some]):11.3f}"
            f"{np.mean([o.pk for o in some]):7.3f}{share([o.starts for o in some]):8.2f}"
            f"{share([o.as_case for o in some]):9.2f}{share([o.sheet for o in some]):7.2f}"
        )
    names = ("window_diff", "pk", "starts", "as_case", "sheet")
    for name in names if any(one.sheet[1] for one in figures) else names[:-1]:
        say(f"  all, {name}: {interval(figures, name)}")


def measure(name: str, each: int, seed: int, knowledge: Knowledge) -> tuple[list[Figures], float]:
    """Print the figures of a file of manners beside the baselines; return them and the speed."""
    model = load_cut_model()
    ours, equal, cohesive = [], [], []
    taken_s = spoken_s = 0.0
    for show in make_shows(name, each=each, seed=seed):
        started = time.process_time()
        captions = read_captions(show.data)
        one = judge_cut(show, captions, knowledge, model)
        taken_s += time.process_time() - started
        spoken_s += show.end_s
        ours.append(Figures(**vars(one) | {"sheet": count_sheet(show, captions, knowledge)}))
        starts = cut_equally(show.end_s, len(show.parts))
        equal.append(judge(show, starts, starts))
        starts = cut_by_cohesion(captions)
        cohesive.append(judge(show, starts, starts))
    hours = spoken_s / 3600
    print_rows(f"{name}: {len(ours)} shows, {hours:.1f} h, the engine", ours)
    print_rows(f"{name}: equal lengths, told how many parts there are", equal)
    print_rows(f"{name}: block comparison of words alone", cohesive)
    return ours, taken_s / hours


def measure_learning(each: int, seed: int, knowledge: Knowledge) -> None:
    """Print what a few corrected shows of a manner do for other shows of the same manner."""
    before, after = [], []
    by_style: dict[str, list[Show]] = {}
    for show in make_shows("unseen", each=LESSONS + each, seed=seed + 1):
        by_style.setdefault(show.style, []).append(show)
    base = load_cut_model()
    for shows in by_style.values():
        lessons = [
            CorrectedShow(read_captions(s.data), tuple((p.start_s, p.kind) for p in s.parts))
            for s in shows[:LESSONS]
        ]
        taught = learn(base, lessons, knowledge=knowledge)
        for show in shows[LESSONS:]:
            captions = read_captions(show.data)
            before.append(judge_cut(show, captions, knowledge, base))
            after.append(judge_cut(show, captions, knowledge, taught))
    print_rows("unseen, before any correction", before)
    print_rows(f"unseen, after {LESSONS} corrected shows of each manner", after)


def main() -> int:
    """Run the benchmark; return 1 when a goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=3, help="shows of each manner")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--learn", action="store_true", help="also measure learning, slower")
    options = parser.parse_args()
    knowledge = load_knowledge()
    measure("learning", options.each, options.seed, knowledge)
    unseen, speed = measure("unseen", options.each, options.seed, knowledge)
    if options.learn:
        measure_learning(options.each, options.seed, knowledge)
    say(f"\nread and cut in {speed:.2f} s of processor time for each hour of captions")
    reached = {
        "window_diff": np.mean([o.window_diff for o in unseen]) <= GOALS["window_diff"],
        "case_starts": share([o.starts for o in unseen]) >= GOALS["case_starts"],
        "sheet": share([o.sheet for o in unseen]) >= GOALS["sheet"],
        "s_per_hour": speed <= GOALS["s_per_hour"],
    }
    for name, is_reached in reached.items():
        say(f"goal {name} {GOALS[name]}: {'reached' if is_reached else 'MISSED'}")
    return 0 if all(reached.values()) else 1


if __name__ == "__main__":
    sys.exit(main())
