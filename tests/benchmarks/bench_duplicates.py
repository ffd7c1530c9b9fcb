"""Measures how well reports of the same print are found: precision, and recall of each kind.

Run ``python tests/benchmarks/bench_duplicates.py [--prints N] [--seed S] [--fit]``. A made-up desk
(duplicate_desk.py) is taken in through the desk's own services, photos and all, and every case is
compared as the worker does. A proposal is right when both cases are about one print. The weights
were fitted with ``--fit`` on seed 1; figures are reported on another seed. Exits with 1 when the
precision is below 0.98.
"""

import argparse
import os
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
WANTED = 0.98
FIT_SEED, SEED = 1, 2
PENALTY = 0.05  # of the squared weights: few pairs speak of a link, and all agree
if TYPE_CHECKING:
    from helpdesk.duplicates.evidence import Evidence
    from tests.benchmarks.duplicate_desk import Sent


def main() -> int:
    """Print the measures or fitted weights; return 1 when the precision is too low."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--prints", type=int, default=150)
    parser.add_argument("--seed", type=int, default=None)
    parser.add_argument("--fit", action="store_true")
    options = parser.parse_args()
    seed = options.seed or (FIT_SEED if options.fit else SEED)
    with tempfile.TemporaryDirectory() as folder:
        set_up(folder)
        from tests.benchmarks.duplicate_desk import make_desk  # noqa: PLC0415 - needs settings

        desk = make_desk(options.prints, seed=seed)
        say(f"{len(desk)} reports about {options.prints} prints sent once or twice, ")
        say(f"and {options.prints} merely similar ones; seed {seed}\n")
        case_ids = take_in(desk)
        pairs = compare_all(case_ids)
    if options.fit:
        fit(desk, pairs)
        return 0
    return report(desk, pairs)


def set_up(folder: str) -> None:
    """Start Django with an empty database in a folder of its own."""
    os.environ["PRINTWARD_DATA"] = folder
    os.environ["DJANGO_SETTINGS_MODULE"] = "helpdesk.config.settings.dev"
    import django  # noqa: PLC0415 - the environment comes first

    django.setup()
    from django.core.management import call_command  # noqa: PLC0415

    call_command("migrate", verbosity=0)


def take_in(desk: "Sequence[Sent]") -> list[int]:
    """Take everything sent in as reports with photos, prepared; return the case ids in order."""
    from django.core.files.base import ContentFile  # noqa: PLC0415 - needs settings

    from helpdesk.cases.services import NewReport, open_case  # noqa: PLC0415
    from helpdesk.photos.services import prepare_photo, receive_photo  # noqa: PLC0415

    found = []
    for number, sent in enumerate(desk):
        case, _ = open_case(
            NewReport(
                story=sent.story,
                submission_key=f"bench:{number}",
                facts={"machine": sent.machine, "material": sent.material},
                person_name=sent.name,
                email=sent.email,
                handle=sent.handle,
                handle_where="the club" if sent.handle else "",
                link=sent.link,
            )
        )
        if sent.photo:
            file = ContentFile(sent.photo, name="photo.jpg")
            prepare_photo(receive_photo(file, label="photo.jpg", case=case).pk)
        found.append(case.pk)
    return found


def compare_all(case_ids: Sequence[int]) -> "dict[tuple[int, int], Evidence]":
    """Compare every case with its candidates, in the order they came; return pairs of places."""
    from helpdesk.cases.models import Case  # noqa: PLC0415 - needs settings
    from helpdesk.duplicates.services import weigh_candidates  # noqa: PLC0415

    places = {case_id: place for place, case_id in enumerate(case_ids)}
    found = {}
    started = time.perf_counter()
    for case_id in case_ids:
        for pair in weigh_candidates(Case.objects.get(pk=case_id)):
            key = tuple(sorted((places[pair.first.pk], places[pair.second.pk])))
            found[key[0], key[1]] = pair.evidence
    taken = time.perf_counter() - started
    say(f"{taken / len(case_ids):.2f} s a case, {len(found)} pairs of candidates compared\n")
    return found


def report(desk: "Sequence[Sent]", pairs: "dict[tuple[int, int], Evidence]") -> int:
    """Print precision at the threshold, recall of each kind, and what was proposed wrongly."""
    from helpdesk.duplicates.evidence import THRESHOLD, judge  # noqa: PLC0415

    proposed = {pair for pair, evidence in pairs.items() if judge(evidence) >= THRESHOLD}
    same = {(a, b) for a, b in true_pairs(desk)}
    right, wrong = proposed & same, proposed - same
    if not proposed:
        say("nothing was proposed\n")
        return 1
    precision = show(len(right), len(proposed))
    say(f"precision {len(right)}/{len(proposed)} = {precision} (wanted: {WANTED})\n")
    say(f"recall {len(right)}/{len(same)} = {show(len(right), len(same))}\n")
    total: Counter[str] = Counter()
    hit: Counter[str] = Counter()
    candidates: Counter[str] = Counter()
    for pair in same:
        kind = kind_of(desk, pair)
        total[kind] += 1
        hit[kind] += pair in right
        candidates[kind] += pair in pairs
    for kind in sorted(total):
        say(f"  {kind:32} {hit[kind]:3}/{total[kind]:<3} {show(hit[kind], total[kind])}")
        say(f"  compared at all: {candidates[kind]}\n")
    for pair in sorted(wrong):
        say(f"  wrong: {kind_of(desk, pair)}: {asdict(pairs[pair])}\n")
    return 0 if len(right) / len(proposed) >= WANTED else 1


def fit(desk: "Sequence[Sent]", pairs: "dict[tuple[int, int], Evidence]") -> None:
    """Print weights fitted by penalised logistic regression (Newton's method)."""
    from helpdesk.duplicates.evidence import Evidence  # noqa: PLC0415

    names = list(Evidence.__dataclass_fields__)
    same = set(true_pairs(desk))
    x = np.array([[1.0, *asdict(evidence).values()] for evidence in pairs.values()])
    y = np.array([pair in same for pair in pairs], dtype=float)
    ridge = np.diag([0.0, *(PENALTY for _ in names)])
    weights = np.zeros(x.shape[1])
    for _ in range(60):
        chance = 1 / (1 + np.exp(-x @ weights))
        slope = x.T @ (y - chance) - ridge @ weights
        bend = (x * (chance * (1 - chance))[:, None]).T @ x + ridge + 1e-9 * np.eye(len(weights))
        weights += np.linalg.solve(bend, slope)
    say(f"{int(y.sum())} same, {int(len(y) - y.sum())} others\nbase {weights[0]:.2f}\n")
    for name, weight in zip(names, weights[1:], strict=True):
        say(f"  {name:8} {weight:6.2f}\n")
    means: dict[str, list[list[float]]] = defaultdict(list)
    for pair, row in zip(pairs, x, strict=True):
        kind = kind_of(desk, pair) if pair in same else f"NOT {kind_of(desk, pair)}"
        means[kind].append([*row[1:], 1 / (1 + np.exp(-row @ weights))])
    for kind, rows in sorted(means.items()):
        if len(rows) >= 3:
            say(f"  {kind:60} {len(rows):4} {np.round(np.mean(rows, axis=0), 2)} ")
            say(f"most {np.max(rows, axis=0)[-1]:.3f} least {np.min(rows, axis=0)[-1]:.3f}\n")


def true_pairs(desk: "Sequence[Sent]") -> list[tuple[int, int]]:
    """Return the pairs of places that are about one print."""
    by_print: dict[int, list[int]] = defaultdict(list)
    for place, sent in enumerate(desk):
        by_print[sent.print_no].append(place)
    return [(places[0], places[1]) for places in by_print.values() if len(places) == 2]


def kind_of(desk: "Sequence[Sent]", pair: tuple[int, int]) -> str:
    """Return how the later of two things sent came about."""
    kinds = {desk[place].kind for place in pair} - {"first"}
    return " / ".join(sorted(kinds)) or "two first reports"


def show(hits: int, of: int) -> str:
    """Return a share with its Wilson interval as text."""
    from triage.workings.proportions import wilson_interval  # noqa: PLC0415

    ends = wilson_interval(hits, of)
    return f"{hits / of:.3f} [{ends.low:.3f}, {ends.high:.3f}]"


def say(words: str) -> None:
    """Print at once."""
    sys.stdout.write(words)
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
