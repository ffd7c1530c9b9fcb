"""The words of a show, in order, each with its time and the cue it stands in."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from triage.captions._model import Cue
from triage.knowledge._model import Floats

_WORD = re.compile(r"[^\W_]+(?:['\u2019][^\W_]+)*")
_ENDINGS = ("ings", "ing", "edly", "ed", "ers", "er", "ies", "es", "s", "ly")
_LEAST_STEM = 3
_COMMON = """
a about above across actually after again against ah all almost already also although always am
an and another any anybody anyone anything anyway are arent around as ask at away back bad
basically be because been before being below better between big bit both bring but by call came
can cant come comes coming couldnt could course day definitely did didnt different do does
doesnt doing done dont down each either else end enough especially even ever every everybody
everyone everything exactly far few find fine first folks for from get gets getting give given
go goes going gone gonna good got gotta great guess guys had hadnt happen happened happening
happens hard has hasnt have havent having he hell hello her here hers hes hey hi him himself his
hope how however hows i id if ill im in instead into is isnt it itd itll its ive just keep kind
kinda know last later least left less let lets like likely little long look looked looking looks
lot lots love made make makes making many may maybe me mean means might mine more most much must
my myself need needs never new next nice no nobody none nope nor not nothing now obviously of
off oh ok okay old on once one ones only onto or other others ought our ours out over own part
people perhaps person place pretty probably problem put quite rather real really right same saw
say saying says second see seem seems seen send sent shall she shes should shouldnt show since
so some somebody someone something sometimes somewhere soon sort still stuff such sure take
takes taken talk talking tell than thank thanks that thatd thatll thats the their theirs them
then there theres these they theyd theyll theyre theyve thing things think this those though
thought three through time times to today together told tonight too took top totally tried try
trying turn two uh um under until up upon us use used uses using usually very wait want wanted
wants was wasnt way ways we wed week well were werent weve what whatever whats when whenever
where whether which while who whole whos whose why will with within without wont word words work
works would wouldnt wow write writes wrong wrote yeah year years yep yes yet you youd youll your
youre yours yourself youve
"""
COMMON: Final = frozenset(_COMMON.split())
"""Words that tell nothing of a subject."""


@dataclass(frozen=True, slots=True, eq=False)
class SpokenWords:
    """Every word of a show.

    Parameters
    ----------
    words : tuple of str
        In small letters, apostrophes taken out.
    stems : tuple of str
        What stands for the word and its kin; empty for common words and single letters.
    time_s : array, shape (words,)
        About when each is spoken: the time of a cue is shared out evenly among its words.
    first : array of int, shape (cues + 1,)
        Place of the first word of each cue, and the number of words.
    """

    words: tuple[str, ...]
    stems: tuple[str, ...]
    time_s: Floats
    first: NDArray[np.intp]


def split_spoken(text: str) -> list[str]:
    """Return the words of a text in small letters, without apostrophes."""
    return [word.replace("'", "").replace("\u2019", "") for word in _WORD.findall(text.casefold())]


@lru_cache(maxsize=1 << 16)
def stem(word: str) -> str:
    """Return what stands for a word and its kin, or an empty string for a common one.

    Only the commonest endings are taken off ("hairs", "printing"): enough to find a word again.
    """
    if word in COMMON or len(word) < _LEAST_STEM:
        return ""
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _LEAST_STEM:
            word = word[: -len(ending)]
            break
    if len(word) > _LEAST_STEM and word[-1] == word[-2] and word[-1] not in "aeiouls":
        word = word[:-1]
    return word.removesuffix("e") if len(word) > _LEAST_STEM else word


def list_stems(text: str) -> list[str]:
    """Return the stems of the telling words of a text, in order."""
    return [found for found in map(stem, split_spoken(text)) if found]


def spread_words(cues: Sequence[Cue]) -> SpokenWords:
    """Return the words of some cues with their times."""
    words: list[str] = []
    first = [0]
    for cue in cues:
        words += split_spoken(cue.text)
        first.append(len(words))
    places = np.array(first, dtype=np.intp)
    counts = np.diff(places)
    start = np.array([cue.start_s for cue in cues])
    length = np.array([cue.end_s for cue in cues]) - start
    inside = np.arange(len(words)) - np.repeat(places[:-1], counts)
    share = inside / np.maximum(np.repeat(counts, counts), 1)
    time_s = np.repeat(start, counts) + share * np.repeat(length, counts)
    return SpokenWords(tuple(words), tuple(map(stem, words)), np.maximum.accumulate(time_s), places)
