"""Measure how long the best set of cases takes to find and to prove.

    python tests/benchmarks/bench_choosing.py [--cases N] [--instances N] [--minutes M]

Makes up desks of varied hardness: from spread-out worths and lengths, over lengths and worths that
go together (a knapsack's hardest), to many twins, some with must-haves and several people's cases,
some with lengths in whole minutes. Every one is solved to a gap of 0. Prints the median and the
slowest time of the optimum alone, of the ties and margins ("what it displaced") on top, of the
cheapest relaxation of a set of rules nothing keeps to, and of the order of ten parts and of
sixteen. Times are processor time of one core; the solver
uses one thread.
"""

import argparse
import random
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from helpdesk.choosing.errors import SolverError  # noqa: E402  run as a script
from helpdesk.choosing.optimum import choose, find_best  # noqa: E402  as above
from helpdesk.choosing.order import OrderPart, find_order  # noqa: E402  as above
from helpdesk.choosing.relaxing import find_relaxation  # noqa: E402  as above
from helpdesk.choosing.values import Option, Reward, Rules  # noqa: E402  as above

FRAME_S = 140  # the parts of a show that are no case
FAMILIES, MACHINES = 10, 12
REWARDS = {"family": Reward(1200, 400), "process": Reward(800, 200), "machine": Reward(500, 200)}
HARDNESS = ("spread", "alike", "together", "twins", "whole minutes", "bound")


def make_desk(seed: int, hardness: str, *, cases: int, slot_s: int) -> tuple[list[Option], Rules]:
    """Return made-up options and rules of one kind of hardness."""
    draw = random.Random(seed)  # noqa: S311 - repeatable on purpose
    options = [_option(number, draw, hardness, cases) for number in range(1, cases + 1)]
    rules = Rules(
        seconds=slot_s - FRAME_S,
        rewards=REWARDS,
        most_per_person=1,
        least_families=draw.randint(0, 4),
    )
    if hardness == "bound":
        numbers = draw.sample(range(1, cases + 1), 12)
        must = frozenset(numbers[:1])
        rules = replace(rules, must=must, never=frozenset(numbers[1:]), least_families=6)
    return options, rules


def _option(number: int, draw: random.Random, hardness: str, cases: int) -> Option:
    seconds = draw.randint(80, 300)
    worth = draw.randint(2000, 10_000)
    if hardness == "alike":
        worth = draw.randint(7000, 7400)
    if hardness == "together":
        worth = 20 * seconds + draw.randint(0, 200)
    if hardness == "twins":
        seconds, worth = draw.choice([120, 150, 180]), 100 * draw.randint(40, 60)
    if hardness == "whole minutes":
        seconds = 60 * draw.randint(1, 5)
    traits = {
        ("family", f"family {draw.randrange(FAMILIES)}"),
        ("process", draw.choice(["MEX", "MEX", "VPP"])),
        ("machine", f"machine {draw.randrange(MACHINES)}"),
    }
    return Option(
        id=number,
        seconds=seconds,
        worth=worth,
        traits=frozenset(traits),
        people=frozenset({draw.randrange(max(1, cases // 2))}),
    )


def make_parts(seed: int, count: int) -> list[OrderPart]:
    """Return made-up parts to put in order."""
    draw = random.Random(seed)  # noqa: S311 - repeatable on purpose
    return [
        OrderPart(
            id=number,
            seconds=draw.randint(60, 240),
            strength=draw.uniform(20, 90),
            family=f"family {draw.randrange(4)}",
            process=draw.choice(["MEX", "VPP"]),
            presenter=draw.choice(["Imke", "Teodor"]),
            is_danger=draw.random() < 0.1,
            is_cure=draw.random() < 0.5,
        )
        for number in range(count)
    ]


def clock_s(action: Callable[[], object]) -> float:
    """Return how long something takes, in seconds."""
    began = time.process_time()
    action()
    return time.process_time() - began


def say(what: str, times: Sequence[float]) -> None:
    """Print the median and the slowest."""
    if not times:
        return
    print(  # noqa: T201 - a command
        f"{what:<46} {statistics.median(times):8.3f} s median {max(times):8.3f} s slowest"
        f"  ({len(times)})",
        flush=True,
    )


def main() -> None:
    """Make up, measure, print."""
    parser = argparse.ArgumentParser(description="Measure the choosing of cases.")
    parser.add_argument("--cases", type=int, default=500)
    parser.add_argument("--instances", type=int, default=36)
    parser.add_argument("--minutes", type=int, default=20)
    options = parser.parse_args()
    alone: dict[str, list[float]] = {name: [] for name in HARDNESS}
    whole: dict[str, list[float]] = {name: [] for name in HARDNESS}
    for seed in range(options.instances):
        hardness = HARDNESS[seed % len(HARDNESS)]
        cases, rules = make_desk(seed, hardness, cases=options.cases, slot_s=60 * options.minutes)
        try:
            began = time.process_time()
            best = find_best(cases, rules)
            alone[hardness].append(time.process_time() - began)
            began = time.process_time()
            chosen = choose(cases, rules)
            whole[hardness].append(time.process_time() - began)
        except SolverError as error:
            print(f"instance {seed}, {hardness}: {error}", flush=True)  # noqa: T201 - a command
            continue
        if best is None or chosen is None or not best.bound == best.worth == chosen.best.worth:
            raise SystemExit(f"Instance {seed} ({hardness}) gave no proven optimum.")
    say("optimum, all", [t for times in alone.values() for t in times])
    say("optimum, ties and margins, all", [t for times in whole.values() for t in times])
    for name in HARDNESS:
        say(f"  optimum, {name}", alone[name])
        say(f"  with ties and margins, {name}", whole[name])
    say("cheapest relaxation", [_time_relaxing(seed, options.cases) for seed in range(12)])
    for count in (10, 16):
        parts = [make_parts(seed, count) for seed in range(12)]
        say(f"order of {count} parts", [clock_s(lambda p=p: find_order(p)) for p in parts])  # type: ignore[misc]


def _time_relaxing(seed: int, cases: int) -> float:
    """Return how long it takes to say what to relax when much is asked for."""
    made, rules = make_desk(seed, "spread", cases=cases, slot_s=600)
    strict = replace(
        rules, must=frozenset(range(1, 8)), never=frozenset({7, 8, 9}), least_families=9
    )
    return clock_s(lambda: find_relaxation(made, strict))


if __name__ == "__main__":
    main()
