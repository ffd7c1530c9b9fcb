"""Measure the archive: the import of many hours of captions, and the search in them.

    .venv/bin/python tests/benchmarks/bench_archive.py --hours 200

Makes captions of invented shows, imports them with one process into a desk in a new folder, and
prints wall and processor time, what the database holds, and how long searches take: single words,
several words, phrases, words that stand nowhere. Words are looked up that were said, so each search
for them must find something. Then the longest file that is taken is imported.
"""

import argparse
import os
import random
import statistics
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
SEED = 20_261_125
SEARCHES = 60
MANY_CUES = 20_000  # the most a file may have
GOAL_S = 300.0


def main() -> None:
    """Make a desk, fill it and search it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=200.0)
    parser.add_argument("--many-cues", type=int, default=MANY_CUES)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["PRINTWARD_DATA"] = folder
        os.environ["DJANGO_SETTINGS_MODULE"] = "helpdesk.config.settings.dev"
        os.environ.pop("PRINTWARD_DATABASE", None)
        import django  # noqa: PLC0415 - after the set-up

        django.setup()
        from django.core.management import call_command  # noqa: PLC0415 - after the set-up

        from helpdesk.demo.serving import make_folders  # noqa: PLC0415 - after the set-up

        make_folders()
        call_command("migrate", verbosity=0, interactive=False)
        said = _import_shows(wanted.hours)
        _search(said)
        _import_many_cues(wanted.many_cues)


def _say(words: str) -> None:
    print(words, flush=True)  # noqa: T201 - a command


def _import_shows(hours: float) -> list[str]:
    """Import shows of so many hours together; return sentences that were said."""
    from helpdesk.archive import engine  # noqa: PLC0415 - after the set-up
    from helpdesk.archive.models import ArchiveSegment  # noqa: PLC0415 - after the set-up
    from helpdesk.archive.services import import_captions  # noqa: PLC0415 - after the set-up
    from helpdesk.search.models import SpokenPassage  # noqa: PLC0415 - after the set-up
    from tests.triage.captions.shows import load_styles, make_show  # noqa: PLC0415 - after the set-up

    began = time.perf_counter()
    engine.make_ready()
    _say(f"first use of the engine: {time.perf_counter() - began:.1f} s")
    styles = load_styles("unseen")
    done_s = wall = processor = 0.0
    number = 0
    said: list[str] = []
    chance = random.Random(SEED)  # noqa: S311 - no secret
    while done_s < hours * 3600:
        show = make_show(styles[number % len(styles)], seed=SEED + number)
        number += 1
        at, at_cpu = time.perf_counter(), time.process_time()
        archived = import_captions(show.data, number=number, label=f"{number}.vtt").show
        wall += time.perf_counter() - at
        processor += time.process_time() - at_cpu
        done_s += show.end_s
        said.append(chance.choice(archived.captions.cues)[2])
    _say(
        f"{number} shows, {done_s / 3600:.1f} hours: {wall:.1f} s wall, {processor:.1f} s "
        f"processor ({wall / done_s * 3600:.2f} and {processor / done_s * 3600:.2f} s an hour); "
        f"goal {GOAL_S * done_s / 3600 / 200:.0f} s"
    )
    _say(f"{ArchiveSegment.objects.count()} segments, {SpokenPassage.objects.count()} passages")
    return said


def _search(said: list[str]) -> None:
    """Time searches of several kinds."""
    from helpdesk.search.spoken import find_spoken  # noqa: PLC0415 - after the set-up
    from helpdesk.search.words import split_words  # noqa: PLC0415 - after the set-up

    chance = random.Random(SEED)  # noqa: S311 - no secret
    cues = [words for words in (split_words(text) for text in said) if len(words) > 2]
    plain = [text.split() for text in said if len(text.split()) > 3]
    kinds = {
        "one word": [chance.choice(chance.choice(cues)) for _ in range(SEARCHES)],
        "three words": [" ".join(chance.choice(cues)[:3]) for _ in range(SEARCHES)],
        "a phrase": [f'"{" ".join(chance.choice(plain)[:4])}"' for _ in range(SEARCHES)],
        "said nowhere": [f"quxbury{n} vortigern{n}" for n in range(SEARCHES)],
    }
    for name, queries in kinds.items():
        times, found = [], 0
        for query in queries:
            at = time.perf_counter()
            found += bool(find_spoken(query).rows)
            times.append((time.perf_counter() - at) * 1000)
        _say(
            f"{name}: median {statistics.median(times):.1f} ms, slowest {max(times):.1f} ms, "
            f"{found} of {len(queries)} found something"
        )


def _import_many_cues(count: int) -> None:
    """Import one file of very many cues."""
    from helpdesk.archive.services import import_captions  # noqa: PLC0415 - after the set-up

    blocks = ["WEBVTT\n"]
    for n in range(count):
        start = n * 2
        stamp = f"{start // 3600:02}:{start // 60 % 60:02}:{start % 60:02}"
        blocks.append(f"{stamp}.000 --> {stamp}.900\nline {n} about nozzles and plates\n")
    raw = "\n".join(blocks).encode()
    at = time.perf_counter()
    show = import_captions(raw, number=999_999, label="many.vtt").show
    segments = show.segments.count()
    _say(f"{count} cues: {time.perf_counter() - at:.1f} s, {segments} segments")


if __name__ == "__main__":
    main()
