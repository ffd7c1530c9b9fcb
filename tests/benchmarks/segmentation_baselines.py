"""Cuts to compare with: equal lengths, and lexical cohesion alone."""

from collections import Counter

import numpy as np

from triage.captions import Captions
from triage.captions._words import SpokenWords, spread_words

TOKENS = 20  # words of a token sequence [hearst1997]
BLOCK = 10  # token sequences compared on either side of a gap [hearst1997]


def cut_equally(end_s: float, count: int) -> list[float]:
    """Return the starts of so many parts of equal length: told how many there are."""
    return [end_s * at / count for at in range(count)]


def cut_by_cohesion(captions: Captions) -> list[float]:
    """Return the starts that block comparison finds, all words but common ones counted.

    Source: [hearst1997]: blocks of token sequences are compared by the cosine of their counts;
    a gap's depth is how far its score lies below the peaks on both sides; gaps deeper than the
    mean less half a standard deviation are ends, if three sequences lie between two of them.
    """
    words = spread_words(captions.cues)
    sequences, times = _sequences(words)
    if len(sequences) < 3:
        return [0.0]
    scores = [_likeness(sequences, gap) for gap in range(1, len(sequences))]
    depths = [_depth(scores, at) for at in range(len(scores))]
    limit = float(np.mean(depths) - np.std(depths) / 2)
    starts = [0.0]
    for at in np.argsort(depths, kind="stable")[::-1].tolist():
        if depths[at] <= max(limit, 0.0):
            break
        near = [abs(times[at + 1] - start) < times[3] - times[0] for start in starts]
        if not any(near):
            starts.append(times[at + 1])
    return sorted(starts)


def _sequences(words: SpokenWords) -> tuple[list[Counter[str]], list[float]]:
    """Return the counts of stems in each token sequence, and when each begins."""
    starts = range(0, len(words.words), TOKENS)
    counts = [Counter(s for s in words.stems[at : at + TOKENS] if s) for at in starts]
    return counts, [float(words.time_s[at]) for at in starts]


def _likeness(sequences: list[Counter[str]], gap: int) -> float:
    before: Counter[str] = sum(sequences[max(0, gap - BLOCK) : gap], Counter())
    after: Counter[str] = sum(sequences[gap : gap + BLOCK], Counter())
    product = sum(count * after[stem] for stem, count in before.items())
    size = sum(c * c for c in before.values()) * sum(c * c for c in after.values())
    return product / size**0.5 if size else 0.0


def _depth(scores: list[float], at: int) -> float:
    """Return how far a score lies below the nearest peaks on its left and right."""
    depth = 0.0
    for step in (-1, 1):
        peak, place = scores[at], at + step
        while 0 <= place < len(scores) and scores[place] >= peak:
            peak, place = scores[place], place + step
        depth += peak - scores[at]
    return depth
