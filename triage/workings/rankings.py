"""How good a ranking was, once it is known what was wanted; and ranking texts by words.

A ranking is a sequence of names, best first; what was wanted is a sequence of names, the main
one first.
"""

import math
import re
import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence

from triage.errors import InputError, OutOfRangeError

SATURATION = 1.2  # k1 of BM25, within the usual 1.2 to 2.0 [robertson2009]
LENGTH_SHARE = 0.75  # b of BM25 [robertson2009]
_WORD = re.compile(r"[^\W\d_]+")


def hits_any(ranking: Sequence[str], wanted: Sequence[str], first: int) -> bool:
    """Return whether any of what was wanted stands among the first so many of a ranking."""
    return not set(wanted).isdisjoint(ranking[: _checked(first)])


def hits_main(ranking: Sequence[str], wanted: Sequence[str], first: int) -> bool:
    """Return whether the main thing wanted stands among the first so many of a ranking.

    Raises
    ------
    InputError
        If nothing was wanted.
    """
    if not wanted:
        msg = "nothing was wanted, so there is no main thing"
        raise InputError(msg)
    return wanted[0] in ranking[: _checked(first)]


def reciprocal_rank(ranking: Sequence[str], wanted: Sequence[str]) -> float:
    """Return 1 over the place of the first thing wanted, counted from 1; 0 when none is there.

    Notes
    -----
    Source: [voorhees1999].
    """
    places = (at for at, name in enumerate(ranking, start=1) if name in wanted)
    return 1.0 / next(places, math.inf)


def discounted_gain(gains: Sequence[float]) -> float:
    """Return the sum of the gains, each divided by log2(1 + place), places counted from 1.

    Notes
    -----
    Linear gain. Source: [jarvelin2002], with the discount from the second place on.
    """
    return math.fsum(gain / math.log2(place + 1) for place, gain in enumerate(gains, start=1))


def normalized_gain(ranking: Sequence[str], gains: Mapping[str, float], first: int) -> float:
    """Return the discounted gain of the first so many over the best there can be, 0 to 1.

    Parameters
    ----------
    ranking : sequence of str
    gains : mapping of str to float, 0 or more
        What each thing is worth; what is not in it is worth nothing. One is above 0.
    first : int, 1 or more

    Raises
    ------
    OutOfRangeError
        If a gain is below 0, none is above 0, or `first` is below 1.
    """
    _checked(first)
    if min(gains.values(), default=0.0) < 0.0 or max(gains.values(), default=0.0) <= 0.0:
        msg = "gains must be 0 or more, and one above 0"
        raise OutOfRangeError(msg)
    best = discounted_gain(sorted(gains.values(), reverse=True)[:first])
    return discounted_gain([gains.get(name, 0.0) for name in ranking[:first]]) / best


def split_words(text: str) -> list[str]:
    """Return the words of a text in their order, folded to one case; figures are no words."""
    return _WORD.findall(unicodedata.normalize("NFKC", text).casefold())


def word_weight(
    documents: int,
    holding: int,
    *,
    count: float,
    length_ratio: float,
    saturation: float = SATURATION,
    length_share: float = LENGTH_SHARE,
) -> float:
    """Return what one word adds to the BM25 score of a text.

    Parameters
    ----------
    documents : int
        Texts in the collection.
    holding : int, 0 to `documents`
        Texts that hold the word. A word in half of them or more adds nothing.
    count : float, 0 or more
        How often the text holds it.
    length_ratio : float, above 0
        Length of the text over the mean length.
    saturation : float
        k1: how fast more of the same word stops to count.
    length_share : float, 0 to 1
        b: how far long texts are held back.

    Returns
    -------
    float
        max(0, ln((N - n + 0.5) / (n + 0.5))) · f·(k1 + 1) / (f + k1·(1 - b + b·ratio)).

    Notes
    -----
    Source: [robertson2009]; the first factor is the Robertson-Spärck Jones weight.
    """
    rarity = max(0.0, math.log((documents - holding + 0.5) / (holding + 0.5)))
    held_back = saturation * (1.0 - length_share + length_share * length_ratio)
    return rarity * count * (saturation + 1.0) / (count + held_back)


class WordRanking:
    """Ranks texts by the words they share with another text, by BM25.

    Parameters
    ----------
    texts : mapping of str to str
        The texts by name, one or more with a word in them.

    Raises
    ------
    InputError
        If no text has a word.
    """

    def __init__(self, texts: Mapping[str, str]) -> None:
        self._counts = {name: Counter(split_words(text)) for name, text in texts.items()}
        lengths = {name: counts.total() for name, counts in self._counts.items()}
        total = sum(lengths.values())
        if not total:
            msg = "none of the texts to rank has a word in it"
            raise InputError(msg)
        self._ratio = {name: length * len(lengths) / total for name, length in lengths.items()}
        self._holding = Counter(word for counts in self._counts.values() for word in counts)

    def scores(self, text: str) -> dict[str, float]:
        """Return the score of each text, in the order given; a word said twice counts twice."""
        asked = Counter(split_words(text))
        return {
            name: math.fsum(
                times * self._weight(name, word) for word, times in asked.items() if word in counts
            )
            for name, counts in self._counts.items()
        }

    def _weight(self, name: str, word: str) -> float:
        return word_weight(
            len(self._counts),
            self._holding[word],
            count=self._counts[name][word],
            length_ratio=self._ratio[name],
        )


def _checked(first: int) -> int:
    if first < 1:
        msg = f"the first {first} of a ranking; 1 or more are needed"
        raise OutOfRangeError(msg)
    return first
