"""Praise turned round: "nothing wrong with the first layer" read as "the first layer fine"."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from triage.reading.cues import CUE_KIND
from triage.reading.patterns import Match, PhraseIndex
from triage.reading.tokens import Document

PRAISE_WORDS = ("fine", "good", "perfect", "great")
"""Words that patterns for the absence of a finding use."""

LONGEST_SUBJECT = 6
"""Words of what is praised."""


def read_praise(document: Document, index: PhraseIndex, matches: Iterable[Match]) -> list[Match]:
    """Return the `absent` patterns that a phrase such as "no problems with …" amounts to.

    Their words are those of the phrase and of what is praised.
    """
    found: dict[Match, None] = {}
    for cue in matches:
        if cue.target.kind != CUE_KIND or cue.target.id != "all-well":
            continue
        for word in PRAISE_WORDS:
            for match in _search_turned(document, index, cue, word):
                found[match] = None
    return list(found)


def _search_turned(
    document: Document, index: PhraseIndex, cue: Match, word: str
) -> Iterator[Match]:
    first = cue.last + 1
    stop = first
    while (
        stop < len(document.words)
        and stop - first < LONGEST_SUBJECT
        and document.clauses[stop] == document.clauses[cue.last]
    ):
        stop += 1
    turned = replace(
        document,
        words=[*document.words[first:stop], word],
        after=[*document.after[first:stop], ""],
        sentences=[0] * (stop - first + 1),
        segments=[0] * (stop - first + 1),
        clauses=[0] * (stop - first + 1),
    )
    for match in index.search(turned).matches:
        praised = match.last == stop - first and len(match.words) > 1
        if praised and match.target.side == "absent":
            subject = (first + place for place in match.words[:-1])
            yield Match(match.target, (*cue.words, *subject))
