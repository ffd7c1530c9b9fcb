"""How likely two cases are about the same print, and why, in words.

Each kind of evidence is a number from 0 to 1; the log odds are the sum of what the kinds weigh. The
weights were fitted by penalised logistic regression to pairs that are made for it, and the figures
reported come from other pairs (`tests/benchmarks/bench_duplicates.py --fit`, docs/duplicates.md).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise

from helpdesk.duplicates.alignment import Comparison

THRESHOLD = 0.85  # from here on a pair is proposed
LEAST_SAID = 0.05  # evidence below this is not worth a sentence
# Agreement from which two pictures are taken for copies, and at which there is no doubt left.
COPY_FROM, COPY_SURE = 0.75, 0.97
ALIKE_FROM, ALIKE_SURE = 0.3, 0.75
# Share of a text's runs: set phrases of the trade stand in many texts, a copy has nearly all.
COPIED_FROM, COPIED_SURE = 0.4, 0.9
WORDS_FROM = 0.25  # cosine of two stories about different prints of one kind


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What speaks for two cases being one print (and what against), each from 0 to 1."""

    picture: float = 0.0  # copies of one picture
    alike: float = 0.0  # pictures that look alike, but are not copies
    link: float = 0.0  # the same address on the net
    person: float = 0.0  # the same address or handle
    copied: float = 0.0  # one text stands in the other
    words: float = 0.0  # the same rare words
    clash: float = 0.0  # another printer, material or kind of printer is told


@dataclass(frozen=True)
class Reason:
    """One reason: its kind, the sentence, and how much it moves the log odds."""

    kind: str
    words: str
    weight: float


BASE = -6.29
WEIGHTS = Evidence(
    picture=8.46, alike=1.13, link=8.82, person=3.44, copied=6.71, words=2.43, clash=-6.33
)


def judge(evidence: Evidence) -> float:
    """Return the probability, from 0 to 1, that two cases are about the same print."""
    total = BASE + sum(getattr(evidence, name) * weight for name, weight in _weights())
    return 1 / (1 + math.exp(-total))


def give_reasons(evidence: Evidence) -> list[Reason]:
    """Return the reasons in words, the weightiest first, those against last."""
    found = [
        Reason(name, words, weight * getattr(evidence, name))
        for name, weight in _weights()
        if (words := _say(name, getattr(evidence, name)))
    ]
    return sorted(found, key=lambda reason: -reason.weight)


def say_probability(probability: float) -> str:
    """Return a probability as a word."""
    limits = (0.0, 0.5, 0.85, 0.97, 0.995, 1.01)
    words = ("not likely", "possible", "likely", "very likely", "almost certain")
    for word, (low, high) in zip(words, pairwise(limits), strict=True):
        if low <= probability < high:
            return word
    return words[-1]


def weigh_picture(found: Comparison) -> tuple[float, float]:
    """Return how far two photos are copies of one picture, and how far they only look alike."""
    same = min(found.agreement, found.detail)
    copy = _share(same, COPY_FROM, COPY_SURE) * _share(found.overlap, 0.2, 0.5)
    alike = _share(found.agreement, ALIKE_FROM, ALIKE_SURE) * (1.0 - copy)
    return copy, alike


def weigh_copied(contained: float) -> float:
    """Return how far one text is a copy of the other, beyond set phrases."""
    return _share(contained, COPIED_FROM, COPIED_SURE)


def weigh_words(cosine: float) -> float:
    """Return how far the rare words of two stories agree beyond those of any two stories."""
    return _share(cosine, WORDS_FROM, 1.0)


def weigh_clash(pairs: Sequence[tuple[str, str]]) -> float:
    """Return how many facts both cases tell differently, as a share of two."""
    told = [(a.strip().casefold(), b.strip().casefold()) for a, b in pairs]
    differing = sum(1 for a, b in told if a and b and a not in b and b not in a)
    return min(1.0, differing / 2)


def _share(value: float, low: float, high: float) -> float:
    """Return where a value lies between two others, from 0 to 1."""
    return min(1.0, max(0.0, (value - low) / (high - low)))


def _weights() -> list[tuple[str, float]]:
    return [(field.name, getattr(WEIGHTS, field.name)) for field in fields(WEIGHTS)]


def _say(kind: str, value: float) -> str:
    """Return one kind of evidence as a sentence, "" when there is none to speak of."""
    if value < LEAST_SAID:
        return ""
    many = value > 0.6
    return {
        "picture": "A photo is the same picture." if many else "A photo may be the same picture.",
        "alike": "Two photos look alike, though they are not copies.",
        "link": "Both came from the same place on the net.",
        "person": "The same address or handle sent both.",
        "copied": "One text stands in the other." if many else "Parts of the texts are the same.",
        "words": "They use the same uncommon words.",
        "clash": "They tell of different printers or materials.",
    }[kind]
