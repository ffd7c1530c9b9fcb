"""Measure how long the clock of the week takes on many made-up cases.

    python tests/benchmarks/bench_week.py [--cases N] [--days D]

Fills a database in a temporary folder with N cases spread evenly over D days, four in five of them
answered, half of those cured, one in four asked something, one in twenty open, and prints the
median server time and the queries of the page and of its table, through Django's test client.
"""

import argparse
import datetime
import os
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import django
from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

ROOT = Path(__file__).resolve().parents[2]
RUNS = 15
BATCH = 2000
HOUR = datetime.timedelta(hours=1)
CHANNELS = ("web", "mail", "chat", "direct", "social")
RANKS = {"received": 1, "asked": 2, "answered": 3, "closed": 9}


def main() -> None:
    """Fill, measure, print."""
    parser = argparse.ArgumentParser(description="Measure the clock of the week.")
    parser.add_argument("--cases", type=int, default=100_000, help="made-up cases")
    parser.add_argument("--days", type=int, default=730, help="days they are spread over")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="printward-bench-") as folder:
        os.environ["PRINTWARD_DATA"] = folder
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "helpdesk.config.settings.dev")
        sys.path.insert(0, str(ROOT))
        django.setup()
        settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, "testserver"]
        call_command("migrate", verbosity=0, interactive=False)
        fill(options.cases, options.days)
        client = Client()
        client.force_login(_reviewer())
        for name in ("week:week", "week:week_table"):
            measure(client, name)


def measure(client: Client, name: str) -> None:
    """Print the median of some runs after a first one, and the queries."""
    address = reverse(name)
    with CaptureQueriesContext(connection) as captured:
        response = client.get(address)
    if response.status_code != 200:
        raise SystemExit(f"{name}: {response.status_code}")
    queries, times = len(captured), []
    for _ in range(RUNS):
        began = time.perf_counter()
        client.get(address)
        times.append((time.perf_counter() - began) * 1000)
    print(  # noqa: T201 - a command
        f"{name:<16} {statistics.median(times):7.1f} ms median {max(times):7.1f} ms slowest"
        f" {queries:3d} queries"
    )


def fill(count: int, days: int) -> None:
    """Write the cases with their answers, outcomes and changes of state."""
    now = timezone.now()
    apart = datetime.timedelta(days=days) / count
    case_model = apps.get_model("cases.Case")
    for start in range(0, count, BATCH):
        numbers = range(start, min(start + BATCH, count))
        with transaction.atomic():
            cases = case_model.objects.bulk_create(
                [case_model(**_case(n, now - apart * n)) for n in numbers]
            )
            _write_rest(list(zip(numbers, cases, strict=True)))


def _case(n: int, opened: datetime.datetime) -> dict[str, Any]:
    """Return the fields of one case."""
    state = ("received", "asked", "answered")[n // 20 % 3] if n % 20 == 0 else "closed"
    return {
        "title": f"Print {n}",
        "state": state,
        "queue_rank": RANKS[state],
        "opened_at": opened,
        "waiting_since": opened,
        "closed_at": opened + HOUR * (60 + n % 400) if state == "closed" else None,
        "channel": CHANNELS[n % len(CHANNELS)],
    }


def _write_rest(cases: list[tuple[int, Any]]) -> None:
    """Write what happened to a batch of cases."""
    answers, outcomes, events = [], [], []
    for n, case in cases:
        answered = case.opened_at + HOUR * (2 + n * 7 % 90)
        if n % 4 == 0:
            events += [_event(case, "Asked", HOUR), _event(case, "Received", HOUR * 20)]
        if n % 5 and case.state in ("answered", "closed"):
            answers.append(_row("answers.Answer", case, edited_at=answered, sent_at=answered))
            events.append(_event(case, "Answered", answered - case.opened_at))
        if n % 5 and n % 2 and case.closed_at:
            outcomes.append(
                _row("cases.Outcome", case, result="worked", said_by="x", said_at=case.closed_at)
            )
        if case.closed_at:
            events.append(_event(case, "Closed", case.closed_at - case.opened_at))
    for rows in (answers, outcomes, events):
        if rows:
            type(rows[0]).objects.bulk_create(rows)


def _event(case: Any, what: str, after: datetime.timedelta) -> Any:
    values = {"kind": "state", "what": what, "actor_name": "x", "at": case.opened_at + after}
    return _row("cases.Event", case, **values)


def _row(model: str, case: Any, **values: Any) -> Any:
    return apps.get_model(model)(case=case, **values)


def _reviewer() -> Any:
    """Return an account that may open the page."""
    user = apps.get_model("accounts.User").objects.create_user("bench", is_superuser=True)
    return user


if __name__ == "__main__":
    main()
