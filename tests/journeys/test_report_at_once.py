"""The same form posted twice at the same moment, against a database in a file."""

import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection, connections
from django.test import Client

from helpdesk.cases.models import Case
from helpdesk.outbox.models import OutgoingMail
from helpdesk.photos.models import Photo
from tests.helpdesk.intake.forms_data import report_data
from tests.helpdesk.pictures import upload

pytestmark = pytest.mark.django_db(transaction=True)
AT_ONCE = 4


def run_in_threads(work: Callable[[], Any], count: int = 1) -> list[Any]:
    """Run the same work in several threads that start together; return what each returned."""
    gate = threading.Barrier(count)
    results: list[Any] = []

    def one() -> None:
        gate.wait()
        try:
            results.append(work())
        except Exception as error:  # noqa: BLE001 - told to the test, which fails on it
            results.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=one) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return results


@pytest.fixture
def real_database(tmp_path: Path) -> Iterator[None]:
    """Let new threads open a database in a file; the test's own one in memory has no real locks."""
    if connection.vendor != "sqlite":
        yield
        return
    settings = connections.settings["default"]
    in_memory = settings["NAME"]
    settings["NAME"] = str(tmp_path / "desk.sqlite3")
    try:
        assert run_in_threads(lambda: call_command("migrate", verbosity=0)) == [None]
        yield
    finally:
        settings["NAME"] = in_memory


@pytest.mark.usefixtures("real_database")
def test_report_posted_at_once_is_one_case() -> None:
    """Several identical posts at the same moment lead to one case, one letter, one photo."""

    def post() -> tuple[int, str]:
        response = Client().post("/report", report_data(photos=[upload()]))
        return response.status_code, response["Location"].partition("?")[0]

    answers = run_in_threads(post, AT_ONCE)

    assert [answer[0] for answer in answers] == [302] * AT_ONCE

    def look() -> tuple[int, int, int, set[int]]:
        pages = {Client().get(location).status_code for _, location in answers}
        return (
            Case.objects.count(),
            OutgoingMail.objects.count(),
            Photo.objects.filter(case__isnull=False).count(),
            pages,
        )

    assert run_in_threads(look) == [(1, 1, 1, {200})]
