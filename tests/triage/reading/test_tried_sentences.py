"""Remedies tried and circumstances told are read from sentences of our own.

The sentences stand in text files beside this one; each line says what must be read, or `none`.
Precision is the share of what was read that is expected, recall the share of what is expected
that was read. A remedy only counts when its result is read as well.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from triage import load_knowledge
from triage.reading import Reader

HERE = Path(__file__).parent
LOWEST_PRECISION = {"tried": 0.95, "risk": 0.93}
LOWEST_RECALL = 0.85
KNOWLEDGE = load_knowledge()
READER = Reader(KNOWLEDGE)
DOES = {
    process: {name for name, suits in zip(KNOWLEDGE.actions, row, strict=True) if suits}
    | {name for name, risk in KNOWLEDGE.risks.items() if risk.process in (process, "any")}
    for process, row in KNOWLEDGE.network.does.items()
}


class Score(NamedTuple):
    """How a bank was read, with the sentences read otherwise than expected."""

    precision: float
    recall: float
    misses: tuple[str, ...]


def load_bank(name: str) -> list[tuple[frozenset[str], str]]:
    """Return what is expected and the sentence, for every line that is no remark."""
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    pairs = [line.split(" | ", 1) for line in lines if line.strip() and not line.startswith("#")]
    return [(frozenset(told.split(", ")) - {"none"}, sentence) for told, sentence in pairs]


def read_tried(sentence: str) -> frozenset[str]:
    """Return each remedy read as tried with its result."""
    return frozenset(f"{entry.action} {entry.result}" for entry in READER.read(sentence).tried)


def read_risks(sentence: str) -> frozenset[str]:
    """Return the circumstances read."""
    return frozenset(entry.id for entry in READER.read(sentence).risks)


def _counted(seen: frozenset[str], items: frozenset[str], told: frozenset[str]) -> frozenset[str]:
    """Leave out what may be read as well, and remedies for the other process than those told."""
    allowed = {item[1:] for item in items if item.startswith("?")}
    names = {item.split()[0] for item in told}
    suited = [does for does in DOES.values() if names and names <= does]
    return frozenset(
        item
        for item in seen
        if item.split()[0] not in allowed
        and (not suited or any(item.split()[0] in does for does in suited))
    )


def score(bank: list[tuple[frozenset[str], str]], read: Callable[[str], frozenset[str]]) -> Score:
    """Compare what is read of every sentence with what is expected."""
    right = expected = found = 0
    misses = []
    for items, sentence in bank:
        told = frozenset(item for item in items if not item.startswith("?"))
        seen = _counted(read(sentence), items, told)
        right += len(seen & told)
        expected += len(told)
        found += len(seen)
        if seen != told:
            misses.append(f"{sentence}: expected {sorted(told)}, read {sorted(seen)}")
    return Score(right / found, right / expected, tuple(misses))


READS = {"tried": read_tried, "risk": read_risks}
BANKS = [
    ("tried", "tried_sentences.txt", KNOWLEDGE.actions, 300, 110),
    ("risk", "risk_sentences.txt", KNOWLEDGE.risks, 100, 40),
]


@pytest.mark.parametrize(("kind", "name"), [bank[:2] for bank in BANKS])
def test_bank_is_read_precisely_and_nearly_whole(kind: str, name: str) -> None:
    """Few things are read that nobody told, and most that were told are read."""
    result = score(load_bank(name), READS[kind])

    told = "\n".join(result.misses)
    assert result.precision >= LOWEST_PRECISION[kind], told
    assert result.recall >= LOWEST_RECALL, told


@pytest.mark.parametrize(("kind", "name", "known", "fewest", "fewest_none"), BANKS)
def test_bank_is_large_and_names_what_exists(
    kind: str, name: str, known: dict[str, object], fewest: int, fewest_none: int
) -> None:
    """Every expectation is known to the knowledge, and no sentence stands twice."""
    bank = load_bank(name)

    assert {item.split()[0].lstrip("?") for told, _ in bank for item in told} <= set(known), kind
    assert len({sentence for _, sentence in bank}) == len(bank)
    assert sum(bool(told) for told, _ in bank) >= fewest
    assert sum(not told for told, _ in bank) >= fewest_none


def main() -> None:
    """Print precision, recall and every mistake of both banks."""
    for kind, name, *_ in BANKS:
        result = score(load_bank(name), READS[kind])
        misses = "".join(f"\n  {miss}" for miss in result.misses)
        sys.stdout.write(
            f"{name}: precision {result.precision:.3f}, recall {result.recall:.3f}{misses}\n"
        )


if __name__ == "__main__":
    main()
