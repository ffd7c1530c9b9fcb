"""Phrases proposed for the knowledge, from words of which somebody says what they mean.

A proposal is a first draft for who keeps the phrases: it finds the words it was made from, with
other endings too, and says nothing of the harmless sentences it may find as well.
"""

from typing import Final

from triage.errors import KnowledgeError
from triage.reading.features import stem
from triage.reading.patterns import FILLERS, GAP_WORDS, MOST_FILLERS, parse_pattern
from triage.reading.tokens import tokenise

MOST_WORDS: Final = 8  # more make a sentence, not a phrase [judgement: desk, 2026-11-25]
GAP: Final = ".."


def propose_pattern(words: str) -> str:
    """Return a pattern that finds some words, "" where none would be of use.

    Fillers and numbers are left out, endings are left open.
    """
    document = tokenise(words)
    if len(set(document.segments)) > 1:  # no pattern reaches over the end of a sentence
        return ""
    pieces: list[str] = []
    fillers = others = clause = 0
    for word, its_clause in zip(document.words, document.clauses, strict=True):
        if word in FILLERS:
            fillers += 1
            continue
        if not word.isalpha():
            others += 1
            continue
        if pieces and (others or fillers > MOST_FILLERS or its_clause != clause):
            if fillers + others > GAP_WORDS:
                return ""
            pieces.append(GAP)
        pieces.append(_open_ended(word))
        fillers = others = 0
        clause = its_clause
    if not 0 < len(pieces) - pieces.count(GAP) <= MOST_WORDS:
        return ""
    pattern = " ".join(pieces)
    try:
        parse_pattern(pattern)
    except KnowledgeError:
        return ""
    return pattern


def sentence_around(text: str, start: int, end: int) -> str:
    """Return the sentences of a text that hold the characters from `start` to `end`.

    The characters themselves are returned where no word stands in them.
    """
    document = tokenise(text)
    at = [
        index
        for index, (first, last) in enumerate(zip(document.starts, document.ends, strict=True))
        if first < end and start < last
    ]
    if not at:
        return text[start:end]
    first, _ = document.sentence_range(at[0])
    _, stop = document.sentence_range(at[-1])
    return text[min(start, document.starts[first]) : max(end, document.ends[stop - 1])]


def _open_ended(word: str) -> str:
    """Return a word, with its ending left open where it has one."""
    root = stem(word)
    return word if root == word else f"{root}*"
