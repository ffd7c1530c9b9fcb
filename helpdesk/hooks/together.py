"""Requests that come at the same moment share one transaction, and so one wait for the disk.

Each is answered after the commit of the transaction it was in. While one request works for all that
waited when it began, the next ones gather; nobody waits for company.
"""

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from django.db import IntegrityError, transaction

from helpdesk.core.errors import DeskError

Item = TypeVar("Item")
MOST_TOGETHER = 32


@dataclass
class _Entry(Generic[Item]):
    """One request's part, and what came of it."""

    item: Item
    is_done: bool = False
    error: Exception | None = None


class Together(Generic[Item]):
    """Writes several items in a transaction; one that is refused costs no other."""

    def __init__(self, write: Callable[[Item], None]) -> None:
        """Take the function that writes one item inside a transaction."""
        self._write = write
        self._waiting: list[_Entry[Item]] = []
        self._gate = threading.Lock()
        self._turn = threading.Lock()

    def do(self, item: Item) -> None:
        """Return once the item is committed; raises what writing it raised."""
        entry = _Entry(item)
        with self._gate:
            self._waiting.append(entry)
        while not entry.is_done:
            with self._turn:
                if not entry.is_done:
                    self._work_off()
        if entry.error:
            raise entry.error

    def _work_off(self) -> None:
        """Write the next items in one transaction; if that fails, it failed for all of them."""
        with self._gate:
            batch = self._waiting[:MOST_TOGETHER]
            self._waiting = self._waiting[MOST_TOGETHER:]
        failure: Exception | None = None
        try:
            with transaction.atomic():
                self._write_all(batch)
        except Exception as error:  # noqa: BLE001 - each of them raises it where it came from
            failure = error
        for entry in batch:
            entry.error = failure or entry.error
            entry.is_done = True

    def _write_all(self, batch: Sequence[_Entry[Item]]) -> None:
        """Write each item under its own savepoint; one alone needs none, for all is undone."""
        for entry in batch:
            try:
                with transaction.atomic(savepoint=len(batch) > 1):
                    self._write(entry.item)
            except (DeskError, IntegrityError) as error:
                entry.error = error
