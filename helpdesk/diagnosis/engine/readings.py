"""What is read in the words of a case, for who corrects it and for what learns from that."""

import re

from helpdesk.diagnosis.engine.inputs import EngineInput, report_of
from helpdesk.diagnosis.engine.knowledge import get_engine
from helpdesk.diagnosis.engine.words import ReadItem, list_items
from triage.reading.proposals import propose_pattern, sentence_around

_SPACE = re.compile(r"\s+")


def read_items(given: EngineInput) -> list[ReadItem]:
    """Return everything that is read in the words of a case, whatever was said of it since."""
    diagnoser = get_engine().diagnoser
    report = report_of(diagnoser, given)
    reading = diagnoser.reader.read(report.text, process=report.process, material=report.material)
    return list_items(reading, raised={danger.id for danger in reading.dangers})


def find_words(text: str, words: str) -> tuple[int, int] | None:
    """Return where words first stand in a text, whatever their spaces and case; None for nowhere.

    The place is in characters. Words need a letter or a digit.
    """
    parts = [re.escape(part) for part in _SPACE.split(words.strip()) if part]
    if not any(letter.isalnum() for letter in words):
        return None
    found = re.search(r"\s+".join(parts), text, re.IGNORECASE)
    return found.span() if found else None


def quote_sentence(text: str, words: str) -> str:
    """Return the sentence of a text that holds some words; the words alone where it does not."""
    place = find_words(text, words)
    return sentence_around(text, *place) if place else words


def propose_phrase(words: str) -> str:
    """Return a pattern for the phrases of the knowledge that finds some words, "" for none."""
    return propose_pattern(words)
