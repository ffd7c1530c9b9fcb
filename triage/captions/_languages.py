"""Whether a show is spoken in more than English."""

from collections.abc import Iterable
from typing import Final

from triage.reading.foreign import LANGUAGES

_ENGLISH = """
the and is it that this you of to was what with have be are so but like just they we i my
because not there would can if from at your
"""
ENGLISH: Final = frozenset(_ENGLISH.split())
PASSAGE_WORDS = 40  # judged at a time
LEAST_SHARE = 0.08  # of the passages in another language [judgement: desk, 2026-11]
LEAST_DIFFERENT = 4  # common words of a language in a passage that is in it


def is_mixed_language(texts: Iterable[str]) -> bool:
    """Return whether a good part of some texts seems to be in a language other than English.

    Passages of forty words are told by the words every text of a language holds.
    """
    words = [word for text in texts for word in text.lower().split()]
    starts = range(0, len(words), PASSAGE_WORDS)
    foreign = sum(_is_foreign(words[at : at + PASSAGE_WORDS]) for at in starts)
    return foreign > 0 and foreign >= LEAST_SHARE * len(starts)


def _is_foreign(passage: list[str]) -> bool:
    words = {word.strip(".,?!;:\"'") for word in passage}
    most = max(len(words & language.common) for language in LANGUAGES.values())
    return most >= LEAST_DIFFERENT and most > len(words & ENGLISH)
