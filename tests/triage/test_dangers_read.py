"""Dangers are heard in everyday words, and harmless talk does not raise them.

The sentences are our own and stand in two text files beside this one.
"""

from pathlib import Path

import pytest

from triage import load_knowledge
from triage.reading import Reader

HERE = Path(__file__).parent
FEWEST_DANGEROUS = 60
FEWEST_HARMLESS = 120
MOST_FALSE = 0.02
FEWEST_PATTERNS = 15

KNOWLEDGE = load_knowledge()
READER = Reader(KNOWLEDGE)


def load_lines(name: str) -> list[str]:
    """Return the lines of a file that are no remarks."""
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    return [line.strip() for line in lines if line.strip() and not line.startswith("#")]


def load_dangers() -> list[tuple[str, str]]:
    """Return the dangers that would do, and the sentence."""
    pairs = [line.split(" | ", 1) for line in load_lines("danger_sentences.txt")]
    return [(dangers, sentence) for dangers, sentence in pairs]


def raised(sentence: str) -> set[str]:
    """Return the dangers a sentence raises."""
    return {danger.id for danger in READER.read(sentence).dangers}


DANGEROUS = load_dangers()
HARMLESS = load_lines("harmless_sentences.txt")


@pytest.mark.parametrize(("dangers", "sentence"), DANGEROUS, ids=[s for _, s in DANGEROUS])
def test_danger_is_heard(dangers: str, sentence: str) -> None:
    """Raises one of the dangers the sentence speaks of."""
    assert raised(sentence) & set(dangers.split(" / "))


def test_danger_sentences_are_many_and_cover_every_danger() -> None:
    """There are enough sentences, none twice, and each danger is told in at least three ways."""
    texts = [sentence for _, sentence in DANGEROUS]
    assert len(set(texts)) == len(texts) >= FEWEST_DANGEROUS
    told = [name for dangers, _ in DANGEROUS for name in dangers.split(" / ")]
    assert set(told) == set(KNOWLEDGE.dangers)
    assert min(told.count(name) for name in KNOWLEDGE.dangers) >= 3


def test_harmless_talk_raises_almost_nothing() -> None:
    """At most two in a hundred harmless sentences raise a danger."""
    assert len(set(HARMLESS)) == len(HARMLESS) >= FEWEST_HARMLESS
    false = [sentence for sentence in HARMLESS if raised(sentence)]
    assert len(false) <= MOST_FALSE * len(HARMLESS), false


def test_every_danger_has_many_phrases() -> None:
    """Each danger is known by at least fifteen patterns."""
    counts = {name: len(book.present) for name, book in KNOWLEDGE.phrases["danger"].items()}
    assert set(counts) == set(KNOWLEDGE.dangers)
    assert min(counts.values()) >= FEWEST_PATTERNS


@pytest.mark.parametrize(
    ("harmless", "dangerous"),
    [
        ("The cold plug was brown.", "The plug was brown."),
        ("The printed connector melted.", "The connector melted."),
        ("The wires of the hot end are new.", "The wires of the hot end melted."),
        ("The belt smells of rubber.", "The board smells of rubber."),
    ],
)
def test_harmless_namesake_hides_no_danger(harmless: str, dangerous: str) -> None:
    """A harmless expression takes away only what borrows its words."""
    assert raised(harmless) == set()
    assert raised(dangerous)


def test_flat_denial_raises_no_danger() -> None:
    """What is plainly denied raises nothing, what is doubted does."""
    assert raised("There was no smoke and no smell of burning.") == set()
    assert raised("I am not sure whether that was smoke from the board.") == {"smoke-or-fire"}
