"""Captions of speech recognition: rolling lines joined, and what gives such captions away."""

import re
from collections.abc import Sequence
from dataclasses import replace

from triage.captions._blocks import RawCue

MANY_ROLLING = 0.2  # of all cues begin with words of the one before [judgement: desk, 2026-11]
MOST_OVERLAP = 40  # words looked back; no two lines hold more
LEAST_OVERLAP = 2  # words that roll on, unless they are the whole cue before
ROLLING_GAP_S = 0.6  # rolling lines follow each other at once
FEW_STOPS = 0.02  # sentence ends a word: written speech has three times as many
FEW_CAPITALS = 0.02  # words with a capital
LEAST_WORDS = 60  # to judge stops and capitals by
_STOP = re.compile(r"[.?!\u2026](?=\s|$)")


def join_rolling(cues: Sequence[RawCue]) -> tuple[list[RawCue], int]:
    """Return the cues with rolled-on words said once, and how many cues had such words.

    A cue of a rolling caption repeats the line above. Only if many cues of a file do so are the
    repeats taken out, as people do say "yes, yes". A cue with nothing new prolongs the one before
    it. The time taken is linear in the words.
    """
    overlaps = [0, *(_overlap(cues[at - 1], cues[at]) for at in range(1, len(cues)))]
    rolling = sum(overlap > 0 for overlap in overlaps)
    if rolling < max(2, MANY_ROLLING * len(cues)):
        return list(cues), 0
    joined: list[RawCue] = []
    for cue, overlap in zip(cues, overlaps, strict=True):
        words = cue.text.split()[overlap:]
        if words:
            joined.append(replace(cue, text=" ".join(words)))
        elif joined:
            joined[-1].end_s = max(joined[-1].end_s, cue.end_s)
    return joined, rolling


def _overlap(before: RawCue, cue: RawCue) -> int:
    """Return how many first words of a cue are the last words of the one before it."""
    if cue.start_s - before.end_s > ROLLING_GAP_S:
        return 0
    old, new = before.text.split(), cue.text.split()
    longest = min(len(old), len(new), MOST_OVERLAP)
    for count in range(longest, 0, -1):
        if old[-count:] == new[:count]:
            is_whole = count in (len(old), len(new))
            return count if count >= LEAST_OVERLAP or is_whole else 0
    return 0


def looks_automatic(cues: Sequence[RawCue]) -> bool:
    """Return whether words came with times of their own, or without stops and capitals."""
    if any(cue.has_word_times for cue in cues):
        return True
    words = stops = capitals = 0
    for cue in cues:
        split = cue.text.split()
        words += len(split)
        stops += len(_STOP.findall(cue.text))
        capitals += sum(word[:1].isupper() for word in split if word not in ("I", "I'm"))
    few = stops < FEW_STOPS * words or capitals < FEW_CAPITALS * words
    return words >= LEAST_WORDS and few
