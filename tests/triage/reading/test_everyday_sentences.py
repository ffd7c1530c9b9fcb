"""Everyday sentences about failed prints are read as what they say.

The sentences stand in two text files beside this one, a finding and a sentence a line, so that
people who know printing can add theirs. They are our own, written to cover every way of talking
we know of; they measure the phrases of the knowledge, not the likelihoods.
"""

from pathlib import Path

import pytest

from triage import load_knowledge
from triage.reading import Reader

HERE = Path(__file__).parent
FILES = ("everyday_sentences.txt", "everyday_sentences_more.txt")
FEWEST_SENTENCES = 250
MOST_EXTRA = 0.6  # findings read beside the expected one, a sentence; many are true as well

KNOWLEDGE = load_knowledge()
READER = Reader(KNOWLEDGE)


def load_sentences() -> list[tuple[str, str]]:
    """Return what is expected and the sentence, for every line that is no remark."""
    lines = [
        line.strip()
        for name in FILES
        for line in (HERE / name).read_text(encoding="utf-8").splitlines()
    ]
    pairs = [line.split(" | ", 1) for line in lines if line and not line.startswith("#")]
    return [(expected, sentence) for expected, sentence in pairs]


def read(sentence: str) -> dict[str, str]:
    """Return finding to state as read."""
    return {seen.finding: seen.state for seen in READER.read(sentence).observations}


SENTENCES = load_sentences()


@pytest.mark.parametrize(("expected", "sentence"), SENTENCES, ids=[s for _, s in SENTENCES])
def test_everyday_sentence_is_read(expected: str, sentence: str) -> None:
    """Reads the findings expected; one with a minus must not be read as present."""
    found = read(sentence)
    for name in expected.split(", "):
        if name.startswith("-"):
            assert found.get(name[1:]) != "present"
        else:
            assert found.get(name) == "present"


def test_everyday_sentences_name_known_findings() -> None:
    """Every expectation is a finding of the knowledge."""
    names = {name.lstrip("-") for expected, _ in SENTENCES for name in expected.split(", ")}
    assert names <= set(KNOWLEDGE.findings)


def test_everyday_sentences_are_many_and_differ() -> None:
    """There are enough sentences, none twice, and they reach most findings."""
    texts = [sentence for _, sentence in SENTENCES]
    assert len(set(texts)) == len(texts) >= FEWEST_SENTENCES
    names = {name.lstrip("-") for expected, _ in SENTENCES for name in expected.split(", ")}
    assert len(names) > 0.75 * len(KNOWLEDGE.findings)


def test_everyday_sentences_are_not_overread() -> None:
    """Few findings are read that nobody asked for."""
    extra = 0
    for expected, sentence in SENTENCES:
        named = {name.lstrip("-") for name in expected.split(", ")}
        extra += len(read(sentence).keys() - named)
    assert extra <= MOST_EXTRA * len(SENTENCES)


def test_everyday_sentences_raise_no_danger() -> None:
    """None of these ordinary troubles is taken for a danger."""
    raised = [sentence for _, sentence in SENTENCES if READER.read(sentence).dangers]
    assert raised == []


@pytest.mark.parametrize(
    ("sentence", "finding"),
    [
        ("It does not fit, too tight.", "fit-too-tight"),
        ("It will not screw on, it is too tight.", "fit-too-tight"),
        ("After a few layers it recovers by itself and is fine again.", "clears-by-itself-later"),
        ("It recovers by itself later, then everything is fine.", "clears-by-itself-later"),
        ("teh corners lift", "corners-lifted"),
        ("the nozzel scratches the bed", "nozzle-scrapes-plate"),
    ],
)
def test_reader_does_not_deny_what_is_told(sentence: str, finding: str) -> None:
    """A denial ends at its comma, recovery does not end itself, and slips are mended."""
    assert read(sentence).get(finding) == "present"
