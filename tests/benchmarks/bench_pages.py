"""Measure how long the desk's pages take on this machine.

    python tests/benchmarks/bench_pages.py [--cases N] [--data FOLDER]

Prepares a demo in a temporary folder (or takes the one named), adds N made-up cases when asked,
and prints the median server time and the queries of each page, through Django's test client.
"""

import argparse
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import django
from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

RUNS = 30
WARM_UP = 3
SEARCHES = ("corners curl", "wet spool strings", "rook 41")
STORY = (
    "Third go at my rook in PLA at 210 C, 0.2 mm layers. The first 40 mm look lovely, then the top "
    "moved over by 3 mm, and I hear a loud knocking. I tightened the belts; nothing changed. There "
    "are fine hairs between the towers and the corners curl up after an hour or so. "
)
ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Result:
    """What one page took."""

    name: str
    median_ms: float
    slowest_ms: float
    queries: int
    kilobytes: float


def main() -> None:
    """Prepare, measure, print."""
    parser = argparse.ArgumentParser(description="Measure the desk's pages.")
    parser.add_argument("--cases", type=int, default=0, help="made-up cases to add to the demo")
    parser.add_argument("--data", help="data folder with a prepared demo; else a temporary one")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="printward-bench-") as temporary:
        os.environ["PRINTWARD_DATA"] = options.data or temporary
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "helpdesk.config.settings.dev")
        sys.path.insert(0, str(ROOT))
        django.setup()
        prepare(options.cases)
        for result in measure_all():
            print(  # noqa: T201 - a command
                f"{result.name:<34} {result.median_ms:7.1f} ms median {result.slowest_ms:7.1f} ms"
                f" slowest {result.queries:4d} queries {result.kilobytes:7.1f} kB"
            )


def prepare(cases: int) -> None:
    """Load the demo and add made-up cases."""
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, "testserver"]
    call_command("demo", no_serve=True, stdout=sys.stderr)
    if cases:
        call_command("make_cases", str(cases), stdout=sys.stderr)


def measure_all() -> list[Result]:
    """Return what each page takes for a reviewer who is logged in."""
    users, cases = apps.get_model("accounts.User"), apps.get_model("cases.Case")
    client = Client()
    client.force_login(users.objects.get(username="imke"))
    case = cases.objects.filter(reports__submission_key="demo:rook").get()
    loaded = cases.objects.filter(state="closed").latest("pk")
    press = reverse("review:mark_finding", args=[case.pk])
    states = iter(("present", "absent") * (RUNS + WARM_UP))
    fragment = {"HX-Request": "true"}
    search = reverse("search:search")
    understood = reverse("intake:understood")

    def find(words: str) -> Callable[[], Any]:
        return lambda: client.get(search, {"words": words})

    pages: dict[str, Callable[[], Any]] = {
        "queue": lambda: client.get(reverse("review:queue")),
        "queue, all that is closed": lambda: client.get(
            reverse("review:queue"), {"turn": "closed"}
        ),
        "case": lambda: client.get(case.get_absolute_url()),
        "case, newest closed": lambda: client.get(loaded.get_absolute_url()),
        "similar cases": lambda: client.get(reverse("search:similar", args=[case.pk])),
        # The record grows by a line with every press, so the last press shows the longest page.
        "finding press": lambda: client.post(
            press, {"finding": "part-knocked-off", "state": next(states)}, headers=fragment
        ),
        **{f"search “{words}”": find(words) for words in SEARCHES},
        "search without words": find(""),
        "second looks": lambda: client.get(reverse("agreement:second_looks")),
        "agreement": lambda: client.get(reverse("agreement:agreement")),
        "episodes": lambda: client.get(reverse("episodes:episodes")),
        "library": lambda: Client().get(reverse("answers:library")),
        "report form": lambda: client.get(reverse("intake:report")),
        "what we understood": lambda: Client().post(understood, {"story": STORY, "process": "MEX"}),
        "what we understood, long story": lambda: Client().post(understood, {"story": STORY * 40}),
    }
    return [measure(name, page) for name, page in pages.items()]


def measure(name: str, page: Callable[[], Any]) -> Result:
    """Return the median of some runs after a warm-up; refuses a page that is refused."""
    for _ in range(WARM_UP):
        page()
    with CaptureQueriesContext(connection) as captured:
        response = page()
    queries = len(captured)  # counted now: the next request empties the log
    if response.status_code != 200:
        raise SystemExit(f"{name}: {response.status_code}")
    times = []
    for _ in range(RUNS - 1):
        began = time.perf_counter()
        page()
        times.append((time.perf_counter() - began) * 1000)
    return Result(
        name=name,
        median_ms=statistics.median(times),
        slowest_ms=max(times),
        queries=queries,
        kilobytes=len(response.content) / 1000,
    )


if __name__ == "__main__":
    main()
