"""The trade's words, taken from the knowledge."""

from collections.abc import Iterator
from functools import lru_cache

from triage.captions._words import list_stems
from triage.knowledge import Knowledge


@lru_cache(maxsize=4)
def list_trade_stems(knowledge: Knowledge) -> frozenset[str]:
    """Return the stems of the names of faults, findings, materials, machines and remedies."""
    return frozenset(found for text in _texts(knowledge) for found in list_stems(text))


def _texts(knowledge: Knowledge) -> Iterator[str]:
    for fault in knowledge.faults.values():
        yield fault.name
        yield fault.sign
    yield from (finding.name for finding in knowledge.findings.values())
    yield from (action.name for action in knowledge.actions.values())
    for material in knowledge.materials.values():
        yield material.name
        yield from material.words
    for machine in knowledge.machines.values():
        yield machine.name
        yield from machine.words
