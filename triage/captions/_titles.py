"""A title for a part of a show in its own words: what it is about, and what is wrong with it."""

import re
from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from typing import Final

import numpy as np

from triage.captions._model import Kind
from triage.captions._words import COMMON, SpokenWords

PLAIN: Final[dict[Kind, str]] = {
    "intro": "Opening",
    "case": "Case",
    "notice": "Notice",
    "outro": "Farewell",
}
OPENING_S = 75.0  # a part's subject is named early
EARLY_WEIGHT = 2.0
PAIR_WEIGHT = 1.6  # "layer lines" says more than "lines"
NAMED_SHARE = 0.5  # of the uses of a word for a thing follow an article
ARTICLES: Final = frozenset(["a", "an", "the", "my", "this", "that", "his", "her", "our", "their"])
_ODD = re.compile(r"\d")


def make_title(
    words: SpokenWords, first: int, end: int, *, kind: Kind, trade: Collection[str]
) -> str:
    """Return a short title for the words from one place to another.

    Words that the part uses much and the rest of the show little are its subject; of these the
    first stand for the thing, those of the trade for what is wrong: "Bowl: hairs between walls".
    Parts that are no case get a plain word, and their subject behind it if they have one.
    """
    if kind in ("intro", "outro"):
        return PLAIN[kind]
    scores = _score_stems(words, first, end)
    named = _named_things(words, first, end)
    things = [found for found in scores if found not in trade and found in named]
    trades = [found for found in scores if found in trade]
    phrase = _best_phrase(words, first, end, trades[:1])
    thing = _best_phrase(words, first, end, things[:1])
    if kind == "notice":
        subject = phrase or thing
        return f"{PLAIN[kind]}: {subject}" if subject else PLAIN[kind]
    if thing and phrase:
        return _capital(f"{thing}: {phrase}")
    return _capital(phrase or thing) or PLAIN[kind]


def _score_stems(words: SpokenWords, first: int, end: int) -> list[str]:
    """Return the stems of a part, most telling first."""
    whole = Counter(words.stems)
    inside: defaultdict[str, float] = defaultdict(float)
    early_s = words.time_s[first] + OPENING_S if first < end else 0.0
    for at in range(first, end):
        found = words.stems[at]
        if found and not _ODD.search(found):
            inside[found] += EARLY_WEIGHT if words.time_s[at] < early_s else 1.0
    share = max(end - first, 1) / max(len(words.stems), 1)

    def score(found: str) -> float:
        expected = whole[found] * share + 0.5
        return float(inside[found] * np.log(inside[found] / expected))

    return sorted(inside, key=lambda found: (-score(found), found))


def _named_things(words: SpokenWords, first: int, end: int) -> set[str]:
    """Return the stems that are mostly said behind "a", "the", "my" or a word between them."""
    uses: Counter[str] = Counter()
    named: Counter[str] = Counter()
    for at in range(first, end):
        found = words.stems[at]
        if found:
            uses[found] += 1
            near = words.words[max(first, at - 2) : at]
            named[found] += any(word in ARTICLES for word in near)
    return {found for found in uses if named[found] >= max(2, NAMED_SHARE * uses[found])}


def _best_phrase(words: SpokenWords, first: int, end: int, best: Sequence[str]) -> str:
    """Return the best word, with the one beside it if both are said together most often."""
    if not best:
        return ""
    pairs: defaultdict[str, float] = defaultdict(float)
    for at in range(first, end):
        if words.stems[at] != best[0]:
            continue
        pairs[words.words[at]] += 1
        if at + 1 < end and _joins(words, at + 1):
            pairs[f"{words.words[at]} {words.words[at + 1]}"] += PAIR_WEIGHT
        if at > first and _joins(words, at - 1):
            pairs[f"{words.words[at - 1]} {words.words[at]}"] += PAIR_WEIGHT
    return max(pairs, key=lambda phrase: (pairs[phrase], phrase))


def _joins(words: SpokenWords, at: int) -> bool:
    return words.words[at] not in COMMON and bool(words.stems[at])


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
