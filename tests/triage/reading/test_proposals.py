"""Phrases proposed from words that somebody marked."""

import pytest

from triage.reading.patterns import PhraseIndex, Target
from triage.reading.proposals import propose_pattern, sentence_around
from triage.reading.tokens import tokenise

WORDS = [
    "fine hairs between the towers",
    "the corners were really just curling up",
    "a gap of 3 mm in the walls",
    "it's popping",
    "first-layer squish is off",
    "NOT STICKING AT ALL",
    "under extrusion, badly",
    "halos around holes",
]


def finds(pattern: str, text: str) -> bool:
    """Return whether a pattern is found in a text."""
    index = PhraseIndex([(Target("finding", "x", "present"), pattern)])
    return bool(index.search(tokenise(text)).matches)


@pytest.mark.parametrize("words", WORDS)
def test_proposal_finds_the_words_it_was_made_from(words: str) -> None:
    assert finds(propose_pattern(words), f"Hello. {words} since Monday.")


@pytest.mark.parametrize(
    ("words", "pattern"),
    [
        ("fine hairs between the towers", "fine hair* between tower*"),
        ("a gap of 3 mm in the walls", "gap of .. mm in wall*"),
        ("under extrusion, badly", "under extrusion .. bad*"),
        ("the", ""),
        ("It pops. It smokes.", ""),
        ("0.2 210", ""),
        ("", ""),
        ("*/?..", ""),
        ("one two three four five six seven eight nine", ""),
    ],
)
def test_proposal_leaves_out_fillers_and_numbers(words: str, pattern: str) -> None:
    assert propose_pattern(words) == pattern


def test_other_endings_are_found_too() -> None:
    assert finds(propose_pattern("corners curling"), "The corner curled.")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("hairs", "There are fine hairs"),
        ("hairs. It", "There are fine hairs. It was PLA"),
        ("fine hairs", "There are fine hairs"),
    ],
)
def test_sentence_is_the_one_around_the_words(words: str, sentence: str) -> None:
    text = "My box failed. There are fine hairs. It was PLA."
    start = text.index(words)

    assert sentence_around(text, start, start + len(words)) == sentence


def test_sentence_without_words_is_what_was_marked() -> None:
    assert sentence_around("… !", 0, 1) == "…"
