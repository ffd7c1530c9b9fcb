"""How much there is of each kind, and where the numbers come from."""

from collections import Counter
from collections.abc import Iterator

from triage.knowledge._depth import MATERIAL_LIMITS
from triage.knowledge._model import Entries


def count_kinds(entries: Entries) -> dict[str, int]:
    """Return the number of entries of each kind; findings and actions also by their own kinds."""
    found = Counter(f"{finding.kind} findings" for finding in entries.findings.values())
    found.update(f"{action.kind} actions" for action in entries.actions.values())
    return {
        "faults": len(entries.faults),
        "findings": len(entries.findings),
        "risks": len(entries.risks),
        "links": len(entries.links),
        "actions": len(entries.actions),
        "cautions": len(entries.cautions),
        "dangers": len(entries.dangers),
        "materials": len(entries.materials),
        "machines": len(entries.machines),
        "phrases": sum(
            len(phrases.present) + len(phrases.absent) + len(phrases.named)
            for book in entries.phrases.values()
            for phrases in book.values()
        ),
        **dict(sorted(found.items())),
    }


def count_sources(entries: Entries) -> dict[str, int]:
    """Return how many numbers rest on each source, the most used first.

    Priors, leaks, links, odds ratios, cure probabilities, efforts (one for each action) and the
    numbers of materials (one for a range) are counted.
    """
    return dict(Counter(_sources(entries)).most_common())


def _sources(entries: Entries) -> Iterator[str]:
    """Yield the source of every number."""
    yield from (fault.source for fault in entries.faults.values())
    yield from (finding.source for finding in entries.findings.values())
    yield from (link.source for link in entries.links)
    yield from (risk.source for risk in entries.risks.values() for _ in risk.odds)
    for action in entries.actions.values():
        yield from [action.source] * (1 + len(action.cures))
    for material in entries.materials.values():
        for key in MATERIAL_LIMITS:
            if getattr(material, key) not in ((), None):
                yield material.source_of(key)
