"""What the knowledge itself says of each fault, as stories to learn from."""

import re
from collections.abc import Iterator

from triage.knowledge import Knowledge, Story

# A finding with this link or more is one of a fault's signs here; weaker ones would make the
# faults' words alike [judgement: desk, 2026-11-25]
TELLING_LINK = 0.3
MOST_PATTERNS = 8  # of each sign, so that none drowns the others [judgement: desk, 2026-11-25]
_MARKS = re.compile(r"[/*?&]|\.\.")  # of the pattern language, see docs/knowledge.md


def list_own_words(knowledge: Knowledge, *, weight: float) -> tuple[Story, ...]:
    """Return the knowledge's words on each fault as stories of some weight.

    Name and sign, why it comes about, the names of its signs, what people say of these, and what
    they say who guess it.
    """
    return tuple(
        Story(text, (fault,), weight)
        for fault in knowledge.faults
        for text in _texts(knowledge, fault)
        if text
    )


def _texts(knowledge: Knowledge, fault: str) -> Iterator[str]:
    entry = knowledge.faults[fault]
    network = knowledge.network
    link = network.link[network.fault_at[fault]]
    signs = [
        network.finding_ids[at]
        for at in (-link).argsort(kind="stable")[: (link >= TELLING_LINK).sum()]
    ]
    said = knowledge.phrases.get("finding", {})
    yield f"{entry.name}. {entry.sign}"
    yield entry.why
    yield ". ".join(knowledge.findings[sign].name for sign in signs)
    yield _plain([p for sign in signs if sign in said for p in said[sign].present[:MOST_PATTERNS]])
    guessed = knowledge.phrases.get("guess", {})
    yield _plain(guessed[fault].present if fault in guessed else ())


def _plain(patterns: tuple[str, ...] | list[str]) -> str:
    """Return patterns as plain words."""
    return ". ".join(_MARKS.sub(" ", pattern) for pattern in patterns)
