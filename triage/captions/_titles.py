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
MOST_FOCUS = 3  # words of a title
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
    scores, spellings = _score_stems(words, first, end)
    things = [found for found in scores if found not in trade]
    trades = [found for found in scores if found in trade]
    phrase = _trade_phrase(words, first, end, trades[:MOST_FOCUS])
    thing = spellings[things[0]] if things else ""
    if kind == "notice":
        subject = phrase or thing
        return f"{PLAIN[kind]}: {subject}" if subject else PLAIN[kind]
    if thing and phrase:
        return _capital(f"{thing}: {phrase}")
    return _capital(phrase or thing) or PLAIN[kind]


def _score_stems(words: SpokenWords, first: int, end: int) -> tuple[list[str], dict[str, str]]:
    """Return the stems of a part, most telling first, and how each is mostly spelt."""
    whole = Counter(words.stems)
    inside: defaultdict[str, float] = defaultdict(float)
    spelt: dict[str, Counter[str]] = {}
    early_s = words.time_s[first] + OPENING_S if first < end else 0.0
    for at in range(first, end):
        found = words.stems[at]
        if found and not _ODD.search(found):
            inside[found] += 1 + (EARLY_WEIGHT - 1.0) * bool(words.time_s[at] < early_s)
            spelt.setdefault(found, Counter())[words.words[at]] += 1
    total = max(len(words.stems), 1)
    share = max(end - first, 1) / total

    def score(found: str) -> float:
        expected = whole[found] * share + 0.5
        return float(inside[found] * np.log1p(inside[found] / expected))

    ranked = sorted(inside, key=lambda found: (-score(found), found))
    return ranked, {found: counts.most_common(1)[0][0] for found, counts in spelt.items()}


def _trade_phrase(words: SpokenWords, first: int, end: int, best: Sequence[str]) -> str:
    """Return the words around the most telling word of the trade that are said together most."""
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
