"""Measures single steps of the engine, beside a general-purpose library where that can follow.

Run ``python tests/benchmarks/bench_engine.py [--cases N]``; the second part needs the extra
``oracle``. Times are processor time of one core, so that other work on the machine counts
little; both sides of a comparison run by turns in one process and its ratio is one of medians.
The findings of a case are picked without chance and without regard to each other, which opens
more of the network than real reports do.
"""

import argparse
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from statistics import median
from time import process_time

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.triage.libraries import HAS_PGMPY, PgmpyNetwork  # noqa: E402  see bench_triage.py
from tests.triage.networks import (  # noqa: E402
    LAYERS12X15_LEAKS,
    LAYERS12X15_LINKS,
    LAYERS12X15_PRIORS,
    make_evidence,
    make_network,
)
from triage import (  # noqa: E402
    Evidence,
    Knowledge,
    Observation,
    compute_posterior,
    explain,
    list_explanations,
    load_knowledge,
    plan_repair,
    rank_questions,
    update_posterior,
)
from triage.explain import rank_sensitivities  # noqa: E402
from triage.inference import compute_answer_effects  # noqa: E402
from triage.previews import preview_answers  # noqa: E402

# What doubtful looks say, by turns: likelihood if present, if absent.
DOUBTS = ((0.9, 0.1), (0.8, 0.2), (0.7, 0.4), (0.6, 0.3), (0.2, 0.8))
# Present, absent and doubtful findings, and the median wanted in ms.
SIZES = (
    (5, 30, 0, None),
    (10, 30, 10, 3.0),
    (15, 30, 0, 6.0),
    (15, 30, 10, 6.0),
    (18, 30, 10, None),
    (25, 30, 10, None),
)


def pick_evidence(
    knowledge: Knowledge, present: int, absent: int, doubtful: int, case: int
) -> Evidence:
    """Return a case of MEX with so many findings, picked without regard to each other."""
    names = [
        name
        for name, finding in knowledge.findings.items()
        if finding.process == "MEX" and any(link.finding == name for link in knowledge.links)
    ]
    count = len(names)
    steps = (names[(case * 17 + at * 53) % count] for at in range(count))
    picked = list(dict.fromkeys(steps))[: present + absent + doubtful]
    observations = [Observation(name, "present") for name in picked[:present]]
    observations += [Observation(name, "absent") for name in picked[present : present + absent]]
    for at, name in enumerate(picked[present + absent :]):
        yes, no = DOUBTS[at % len(DOUBTS)]
        observations.append(Observation(name, "present" if yes > no else "absent", yes, no))
    return Evidence(process="MEX", observations=tuple(observations))


def clock(*works: Callable[[], object], rounds: int = 1) -> list[float]:
    """Return the median milliseconds of each piece of work, done by turns."""
    times: list[list[float]] = [[] for _ in works]
    for _ in range(rounds):
        for work, spent in zip(works, times, strict=True):
            started = process_time()
            work()
            spent.append((process_time() - started) * 1000.0)
    return [median(spent) for spent in times]


def time_sizes(knowledge: Knowledge, cases: int) -> Iterator[str]:
    """Yield the time of a posterior for growing numbers of findings."""
    yield "posterior of the whole network, ms:"
    for present, absent, doubtful, wanted in SIZES:
        times, widths, bounds = [], [], []
        for case in range(cases):
            evidence = pick_evidence(knowledge, present, absent, doubtful, case)
            times += clock(lambda evidence=evidence: compute_posterior(knowledge, evidence))  # type: ignore[misc]
            posterior = compute_posterior(knowledge, evidence)
            widths.append(max(one.plan.width for one in posterior.hypotheses))
            bounds.append(posterior.error_bound)
        limit = "" if wanted is None else f" (wanted: median below {wanted:g})"
        yield (
            f"  {present:2d} present, {absent} absent, {doubtful:2d} doubtful: median "
            f"{median(times):.2f}, most {max(times):.2f}{limit}; most open at once {max(widths)}; "
            f"error bound {max(bounds):g}"
        )


def time_steps(knowledge: Knowledge, cases: int) -> Iterator[str]:
    """Yield the time of the other steps on cases of 10 present, 30 absent, 10 doubtful."""
    rows: list[list[float]] = []
    for case in range(cases):
        evidence = pick_evidence(knowledge, 10, 30, 10, case)
        posterior = compute_posterior(knowledge, evidence)
        effects = preview_answers(knowledge, evidence, posterior)
        more = Observation(effects.findings[0], "absent")
        after = replace(evidence, observations=(*evidence.observations, more))
        suspected = [fault.id for fault in posterior.ranked[:5]]

        def ask(evidence=evidence, posterior=posterior):
            found = preview_answers(knowledge, evidence, posterior)
            return rank_questions(knowledge, evidence, posterior, limit=5, effects=found)

        rows.append(
            clock(
                lambda after=after: compute_posterior(knowledge, after),  # type: ignore[misc]
                lambda p=posterior, after=after: update_posterior(knowledge, p, after),  # type: ignore[misc]
                lambda p=posterior, names=effects.findings: compute_answer_effects(  # type: ignore[misc]
                    knowledge, p, names
                ),
                ask,
                lambda e=evidence, p=posterior, f=effects: plan_repair(  # type: ignore[misc]
                    knowledge, p, evidence=e, effects=f
                ),
                lambda e=evidence, names=suspected: explain(knowledge, e, faults=names),  # type: ignore[misc]
                lambda e=evidence, p=posterior, names=suspected: rank_sensitivities(  # type: ignore[misc]
                    knowledge, p, names[0], evidence=e
                ),
                lambda p=posterior: list_explanations(knowledge, p),  # type: ignore[misc]
                rounds=3,
            )
        )
    answers = len(effects.findings)
    full, update, batch, ask_ms, plan_ms, why, numbers, sets = (
        median(column) for column in zip(*rows, strict=True)
    )
    yield "\n10 present, 30 absent, 10 doubtful, ms (median):"
    yield (
        f"  one finding more is absent: anew {full:.2f}, update {update:.2f}, "
        f"ratio {full / update:.2f}"
    )
    yield (
        f"  both answers to each of {answers} questions, one sum: {batch:.2f}; one by one "
        f"{2 * answers * full:.0f}, ratio {2 * answers * full / batch:.0f}"
    )
    yield f"  next questions {ask_ms:.2f}, plan {plan_ms:.2f}"
    yield (
        f"  explanation of five faults, posterior included {why:.2f} (wanted: below 20); "
        f"numbers that mattered {numbers:.2f} (wanted: below 20)"
    )
    yield f"  five best sets of faults {sets:.2f}"


def middle_network() -> tuple[list[float], list[float], Mapping[tuple[int, int], float]]:
    """Return the numbers of 24 faults and 40 findings, about three faults to a finding."""
    links = {
        (i, j): 0.1 + 0.1 * ((3 * i + 2 * j) % 9)
        for j in range(40)
        for i in {j % 24, (5 * j + 7) % 24, (11 * j + 3) % 24}
    }
    return (
        [0.02 + 0.01 * (5 * i % 12) for i in range(24)],
        [0.01 * (1 + j % 4) for j in range(40)],
        links,
    )


def compare(rounds: int) -> Iterator[str]:
    """Yield the time of all posteriors beside variable elimination in pgmpy."""
    yield "\nall posteriors beside pgmpy, ms (median), by turns:"
    if not HAS_PGMPY:
        yield "  pgmpy is not there; it comes with the extra 'oracle'"
        return
    for name, numbers, present, absent in (
        (
            "12 x 15",
            (LAYERS12X15_PRIORS, LAYERS12X15_LEAKS, LAYERS12X15_LINKS),
            (0, 3, 7, 10),
            (1, 4, 6, 12),
        ),
        ("24 x 40", middle_network(), (0, 5, 9, 14, 22, 31), (1, 2, 3, 4, 6, 7, 8, 10, 11, 12)),
    ):
        yield _compare(name, numbers, present, absent, rounds)


def _compare(
    name: str,
    numbers: tuple[list[float], list[float], Mapping[tuple[int, int], float]],
    present: Sequence[int],
    absent: Sequence[int],
    rounds: int,
) -> str:
    """Return the line of one network."""
    priors, leaks, links = numbers
    knowledge, other = make_network(priors, leaks, links), PgmpyNetwork(priors, leaks, links)
    evidence = make_evidence(present=present, absent=absent)
    ours = list(compute_posterior(knowledge, evidence).chances.values())
    theirs = other.posteriors(present, absent)
    apart = max(abs(one - two) for one, two in zip(ours, theirs, strict=True))
    mine, library = clock(
        lambda: compute_posterior(knowledge, evidence),
        lambda: other.posteriors(present, absent),
        rounds=rounds,
    )
    return (
        f"  {name}: engine {mine:.2f}, pgmpy {library:.1f}, ratio {library / mine:.0f}; "
        f"largest difference {apart:.1e}"
    )


def main() -> None:
    """Print all measures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=40)
    cases = parser.parse_args().cases
    knowledge = load_knowledge()
    compute_posterior(knowledge, pick_evidence(knowledge, 5, 5, 0, 0))  # the first is slower
    for lines in (time_sizes(knowledge, cases), time_steps(knowledge, cases), compare(15)):
        for line in lines:
            sys.stdout.write(line + "\n")


if __name__ == "__main__":
    main()
