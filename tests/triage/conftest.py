"""Shared parts of the engine's tests, and the rule that published values name their source."""

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from triage.knowledge import KNOWLEDGE_FOLDER

HERE = Path(__file__).parent


def known_sources() -> Iterator[str]:
    """Yield the keys of the bibliography, read without the loader that is under test."""
    for file in (KNOWLEDGE_FOLDER / "sources.toml", *KNOWLEDGE_FOLDER.glob("sources/*.toml")):
        if file.exists():
            yield from tomllib.loads(file.read_text(encoding="utf-8"))


def find_source_faults(items: list[pytest.Item], known: set[str]) -> list[str]:
    """Return what is wrong with the source marks of tests, one sentence each."""
    faults = []
    for item in items:
        keys = [key for mark in item.iter_markers("source") for key in mark.args]
        faults += [f"{item.nodeid}: unknown source '{key}'" for key in keys if key not in known]
        if "reference" in item.path.relative_to(HERE).parts[:-1] and not keys:
            faults.append(f"{item.nodeid}: a reference test must have a source mark")
    return faults


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Stop when a test names an unknown source or a reference test names none."""
    ours = [item for item in items if item.path.is_relative_to(HERE)]
    faults = find_source_faults(ours, set(known_sources()))
    if faults:
        raise pytest.UsageError("\n".join(faults))
