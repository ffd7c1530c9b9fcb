"""Several requests in one transaction: all of them hold, or those that cannot are told so."""

import threading
import time
from collections.abc import Iterator, Sequence
from typing import Any

import pytest
from django.db import OperationalError, connections

from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.models import Bucket
from helpdesk.hooks.together import Together


def write(key: str) -> None:
    """Write a row, or refuse, or fail."""
    if key == "refused":
        raise RefusedInputError("No.")
    if key == "broken":
        raise OperationalError("away")
    Bucket.objects.create(key=key, left=1, at=clock.now())


def keys() -> set[str]:
    """Return the rows there are."""
    return set(Bucket.objects.values_list("key", flat=True))


@pytest.mark.django_db
def test_what_is_refused_costs_no_other() -> None:
    together = Together(write)
    together.do("a")

    with pytest.raises(RefusedInputError, match="No"):
        together.do("refused")

    together.do("b")
    assert keys() == {"a", "b"}


@pytest.mark.django_db
def test_failure_of_the_database_reaches_whoever_asked_and_the_next_one_works() -> None:
    together = Together(write)

    with pytest.raises(OperationalError):
        together.do("broken")

    together.do("c")
    assert keys() == {"c"}


@pytest.fixture
def _close() -> Iterator[None]:
    yield
    Bucket.objects.all().delete()


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("_close")
def test_requests_at_the_same_moment_share_transactions_and_each_is_answered() -> None:
    """Ten threads while the first transaction takes its time: two transactions do for them all."""
    batches: list[int] = []

    class Counting(Together[str]):
        def _write_all(self, batch: Sequence[Any]) -> None:
            batches.append(len(batch))
            time.sleep(0.3)
            super()._write_all(batch)

    together = Counting(write)
    errors: list[str] = []
    shared = connections["default"]
    shared.inc_thread_sharing()

    def ask(key: str) -> None:
        connections["default"] = shared  # a database in memory is one connection's own
        try:
            together.do(key)
        except RefusedInputError:
            errors.append(key)

    names = [f"row-{n}" for n in range(9)] + ["refused"]
    threads = [threading.Thread(target=ask, args=(name,)) for name in names]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    shared.dec_thread_sharing()

    assert keys() == set(names) - {"refused"}
    assert errors == ["refused"]
    assert sum(batches) == 10
    assert len(batches) <= 3
