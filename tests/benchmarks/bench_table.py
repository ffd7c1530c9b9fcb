"""How long and how much memory a table of reports takes: looking at it, and bringing some in.

    python tests/benchmarks/bench_table.py --rows 100000 --bring-in 1000

Uses a database and folder of its own; the table is invented by chance from a fixed seed.
"""

import argparse
import os
import random
import resource
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ["DJANGO_SETTINGS_MODULE"] = "helpdesk.config.settings.dev"
os.environ["PRINTWARD_DATA"] = tempfile.mkdtemp(prefix="printward-table-")
os.environ.setdefault("PRINTWARD_DATABASE", "")

import django

django.setup()

from django.core.files.base import File  # noqa: E402 - settings come first
from django.core.management import call_command  # noqa: E402 - settings come first

from helpdesk.capture.imports import (  # noqa: E402 - settings come first
    import_some,
    keep_table,
    look_at_table,
    start_import,
)
from helpdesk.demo.serving import make_folders  # noqa: E402 - settings come first
from tests.factories import make_user  # noqa: E402 - settings come first

WORDS = [
    "corner",
    "lifts",
    "seam",
    "nozzle",
    "plate",
    "strand",
    "layer",
    "shift",
    "rough",
    "wall",
    "gap",
    "first",
    "bed",
    "warm",
    "cold",
    "tower",
    "vase",
    "rook",
    "box",
    "lid",
    "hinge",
    "stuck",
    "loose",
    "belt",
    "whiskers",
    "holes",
    "support",
    "bridge",
    "roof",
    "sagging",
    "after",
]
HEADER = "Date,Printer,Material,Description,Name,Answer,Outcome"


def make_table(target: Path, rows: int, seed: int) -> None:
    """Write a table as CSV in UTF-8."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    with target.open("w", encoding="utf-8") as file:
        file.write(HEADER + "\n")
        for number in range(rows):
            story = " ".join(chance.choices(WORDS, k=40))
            answer = " ".join(chance.choices(WORDS, k=25))
            day = f"2025-{chance.randint(1, 12):02}-{chance.randint(1, 28):02}"
            file.write(f"{day},Tern 220,PLA,{story},Person {number},{answer},worked\n")


def say(line: str) -> None:
    """Print a line at once."""
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def memory_mb() -> float:
    """Return the most memory this process had, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--bring-in", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=2026)
    options = parser.parse_args()
    make_folders()
    call_command("migrate", verbosity=0, interactive=False)
    actor = make_user("imke")
    path = Path(os.environ["PRINTWARD_DATA"]) / "big.csv"
    make_table(path, options.rows, options.seed)
    before = memory_mb()
    since = time.perf_counter()
    with path.open("rb") as content:
        file = File(content, name=path.name)
        table = keep_table(file, label=path.name, actor=actor)
    kept_s = time.perf_counter() - since
    look = look_at_table(table)
    looked_s = time.perf_counter() - since - kept_s
    size_mb = path.stat().st_size / 1e6
    say(f"{options.rows:,} rows, {size_mb:.0f} MB: {look.new:,} new, {look.refused} refused")
    say(f"kept and sniffed in {kept_s:.1f} s, looked at in {looked_s:.1f} s")
    say(f"memory grew by {memory_mb() - before:.0f} MB")
    start_import(table.pk, look=look)
    since = time.perf_counter()
    import_some(table.pk, most=options.bring_in)
    took_s = time.perf_counter() - since
    table.refresh_from_db()
    say(f"{table.made} cases made in {took_s:.1f} s, {took_s / table.made * 1000:.1f} ms each")


if __name__ == "__main__":
    main()
