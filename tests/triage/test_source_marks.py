"""The rule that published values name their source."""

from pathlib import Path

import pytest

from tests.triage.conftest import (
    HERE,
    find_source_faults,
    known_sources,
    pytest_collection_modifyitems,
)


class FakeItem:
    """As much of a collected test as the rule looks at."""

    def __init__(self, path: Path, *keys: str) -> None:
        self.path = path
        self.nodeid = path.name
        self._marks = [pytest.mark.source(key).mark for key in keys]

    def iter_markers(self, name: str) -> list[pytest.Mark]:
        """Return the marks of a name."""
        return [mark for mark in self._marks if mark.name == name]


@pytest.mark.parametrize(
    ("path", "keys", "faults"),
    [
        ("reference/test_a.py", ("known",), []),
        ("reference/test_a.py", (), ["test_a.py: a reference test must have a source mark"]),
        ("reference/test_a.py", ("other",), ["test_a.py: unknown source 'other'"]),
        ("test_a.py", (), []),
        ("test_a.py", ("other",), ["test_a.py: unknown source 'other'"]),
        ("test_reference.py", (), []),
    ],
)
def test_source_rule(path: str, keys: tuple[str, ...], faults: list[str]) -> None:
    """Unknown keys are faults anywhere, missing ones under reference/."""
    item = FakeItem(HERE / path, *keys)

    assert find_source_faults([item], {"known"}) == faults  # type: ignore[list-item]


def test_bibliography_has_the_keys_of_the_knowledge() -> None:
    """The rule reads the same bibliography as the engine."""
    assert {"memory", "common-practice", "pearl1988"} <= set(known_sources())


def test_collection_stops_at_an_unknown_source() -> None:
    """The hook refuses the whole run and lists the fault; tests elsewhere are not its business."""
    wrong = FakeItem(HERE / "reference" / "test_a.py", "zzz")
    elsewhere = FakeItem(HERE.parent / "test_b.py", "zzz")

    with pytest.raises(pytest.UsageError, match=r"^test_a\.py: unknown source 'zzz'$"):
        pytest_collection_modifyitems([wrong, elsewhere])  # type: ignore[list-item]
    pytest_collection_modifyitems([elsewhere])  # type: ignore[list-item]
