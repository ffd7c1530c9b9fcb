"""Words of danger in other languages ask for a reader; harmless talk in them does not.

The reports of foreign_reports.txt are our own, from memory of the languages, without a source.
"""

from pathlib import Path

import pytest

from triage import load_knowledge
from triage.knowledge import KNOWLEDGE_FOLDER, load_stories
from triage.reading import Reader
from triage.reading.foreign import LANGUAGES

KNOWLEDGE = load_knowledge()
READER = Reader(KNOWLEDGE)
LINES = Path(__file__).with_name("foreign_reports.txt").read_text(encoding="utf-8").splitlines()
REPORTS = [tuple(line.split(" | ", 1)) for line in LINES if line and not line.startswith("#")]
DANGEROUS = [(language, text) for language, text in REPORTS if language != "none"]
HARMLESS = [text for language, text in REPORTS if language == "none"]


def foreign_notes(text: str) -> list[str]:
    """Return the notes that ask for a reader."""
    return [note for note in READER.read(text).notes if note.startswith("This may be dangerous")]


@pytest.mark.parametrize(("language", "text"), DANGEROUS, ids=[text for _, text in DANGEROUS])
def test_foreign_danger_asks_for_a_reader(language: str, text: str) -> None:
    """Names the language and quotes the words."""
    notes = foreign_notes(text)

    assert len(notes) == 1
    assert notes[0].endswith(f"seems to be {language}.")
    assert notes[0].split("\u201c")[1].split("\u201d")[0] in text


@pytest.mark.parametrize("text", HARMLESS)
def test_foreign_harmless_talk_asks_for_nothing(text: str) -> None:
    """Denials, colours, detectors and foreign words in English texts raise nothing."""
    assert foreign_notes(text) == []


def test_foreign_reports_cover_every_language() -> None:
    """Each language the table holds is told of."""
    assert {language for language, _ in DANGEROUS} == set(LANGUAGES)


def test_english_stories_are_never_taken_for_another_language() -> None:
    """None of the invented English reports raises the note."""
    stories = load_stories(KNOWLEDGE, KNOWLEDGE_FOLDER)

    assert [story.text for story in stories if foreign_notes(story.text)] == []


def test_foreign_words_raise_no_danger_by_themselves() -> None:
    """The note is soft: the text is not read, so no danger of the knowledge is raised."""
    assert READER.read("Hilfe, aus meinem Drucker kommt Rauch!").dangers == ()
