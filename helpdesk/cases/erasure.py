"""Forgetting a person: every app that keeps something of a case registers how it goes.

An app registers in its own module named ``erasure``, which is loaded at start-up. An eraser runs
inside the transaction that forgets the person; files go once that is committed.
"""

from collections.abc import Callable

from helpdesk.cases.models import Case

Eraser = Callable[[Case], object]
_erasers: dict[str, Eraser] = {}


def eraser(name: str) -> Callable[[Eraser], Eraser]:
    """Register what removes one app's part of a case; it must be safe to run twice."""

    def register(function: Eraser) -> Eraser:
        _erasers[name] = function
        return function

    return register


def erase_parts(case: Case) -> tuple[str, ...]:
    """Run every registered eraser on a case; return their names in the order they ran."""
    for function in _erasers.values():
        function(case)
    return tuple(_erasers)
