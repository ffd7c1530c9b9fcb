"""What speaks for a new part at each cue, as a table of numbers.

Three sorts of signs: turns of speech before and after the place, a drop in lexical cohesion, and
what the talk is about and from whose mouth (a letter is read, then advice is given).
"""

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from triage.captions._model import Captions, Cue
from triage.captions._phrases import (
    ADVICE,
    CLOSING,
    FIRST_PERSON,
    KINDLY,
    OPENING,
    TELLING,
    compile_families,
)
from triage.captions._words import SpokenWords, spread_words
from triage.knowledge._model import Floats

_OPENING, _CLOSING, _KINDLY = map(compile_families, (OPENING, CLOSING, KINDLY))
REACH_WORDS = 5.0  # over which a turn of speech fades with its distance from the cue's start
FARTHEST_WORDS = 20  # beyond which it counts nothing
LINKS_S = (60.0, 240.0)  # how far apart two uses of a word may be to hold a passage together
NEW_S = 150.0  # a word unheard for as long counts as new
AGAIN_S = 120.0  # a new word that is said again so soon begins a subject
NEAR_S, FAR_S = 8.0, 25.0  # after a place, for words that begin a subject
WINDOW_S = 25.0  # looked at on either side for words of a sort
AROUND_S = 60.0  # that a place's cohesion is compared with
CLIP = 3.0  # of standard deviations: one odd place must not outweigh everything
_TELLING_GAP_S = 0.3

BOUNDARY_NAMES: Final = (
    *(f"open-{name}" for name in OPENING),
    *(f"close-{name}" for name in CLOSING),
    *(f"open-{name}" for name in KINDLY),
    "open-together",
    "pause",
    "sentence",
    "speaker",
    *(f"links-{span:.0f}" for span in LINKS_S),
    "new-words",
    "old-words",
    "trade-new",
    "begins-near",
    "begins-far",
    "ends-far",
    "person-rise",
    "telling-rise",
    "advice-fall",
)
"""Columns of the table of boundaries."""

PASSAGE_NAMES: Final = (*(f"said-{name}" for name in KINDLY), "trade", "telling", "advice")
"""Columns of the table of passages."""


@dataclass(frozen=True, slots=True, eq=False)
class ShowSigns:
    """A show as numbers, for every cue.

    Parameters
    ----------
    start_s : array, shape (cues,)
    end_s : float
        End of the last words.
    boundary : array, shape (cues, boundary names)
        What speaks for a part that starts with the cue.
    passage : array, shape (cues, passage names)
        What the words of the cue speak of; counts of signs.
    words : SpokenWords
    """

    start_s: Floats
    end_s: float
    boundary: Floats
    passage: Floats
    words: SpokenWords


def read_signs(captions: Captions, *, trade: Collection[str]) -> ShowSigns:
    """Return the signs of a show.

    Parameters
    ----------
    captions : Captions
    trade : collection of str
        Stems of words of the trade.

    Returns
    -------
    ShowSigns
    """
    cues = captions.cues
    words = spread_words(cues)
    text, offsets = _join(words.words)
    columns: list[Floats] = []
    columns += [_opens(_starts(p, text, offsets), words.first) for p in _OPENING.values()]
    columns += [_closes(_ends(p, text, offsets), words.first) for p in _CLOSING.values()]
    kindly = {name: _starts(p, text, offsets) for name, p in _KINDLY.items()}
    columns += [_opens(found, words.first) for found in kindly.values()]
    strong = np.sum(columns[: len(_OPENING) - 1], axis=0)  # of all but the weak words
    columns.append(np.minimum(strong, CLIP))
    columns += _turn_columns(cues)
    columns += _cohesion_columns(words, trade)
    columns += _person_columns(words)
    return ShowSigns(
        start_s=np.array([cue.start_s for cue in cues]),
        end_s=captions.duration_s,
        boundary=np.column_stack(columns),
        passage=_passages(words, kindly, trade),
        words=words,
    )


def _join(words: Sequence[str]) -> tuple[str, NDArray[np.intp]]:
    """Return the words parted by spaces, and where each begins."""
    lengths = np.fromiter((len(word) + 1 for word in words), np.intp, len(words))
    return " ".join(words), np.concatenate(([0], np.cumsum(lengths)))[:-1].astype(np.intp)


def _starts(pattern: re.Pattern[str], text: str, offsets: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return the places of the words at which a pattern is found to begin."""
    at = np.fromiter((m.start() for m in pattern.finditer(text)), np.intp)
    return np.searchsorted(offsets, at, side="right").astype(np.intp) - 1


def _ends(pattern: re.Pattern[str], text: str, offsets: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return the places of the words behind which a pattern is found to end."""
    at = np.fromiter((m.end() for m in pattern.finditer(text)), np.intp)
    return np.searchsorted(offsets, at, side="left").astype(np.intp)


def _opens(found: NDArray[np.intp], first: NDArray[np.intp]) -> Floats:
    """Return for each cue how near after its start something is said, 1 at once to 0 never."""
    starts = first[:-1]
    if not len(found):
        return np.zeros(len(starts))
    nearest = np.searchsorted(found, starts)
    distance = np.append(found, np.iinfo(np.int32).max)[nearest] - starts
    return np.where(distance < FARTHEST_WORDS, np.exp(-distance / REACH_WORDS), 0.0)


def _closes(found: NDArray[np.intp], first: NDArray[np.intp]) -> Floats:
    """Return for each cue how near before its start something is said, 1 at once to 0 never."""
    starts = first[:-1]
    if not len(found):
        return np.zeros(len(starts))
    found = np.sort(found)
    nearest = np.searchsorted(found, starts, side="right")
    distance = starts - np.insert(found, 0, -np.iinfo(np.int32).max)[nearest]
    return np.where(distance < FARTHEST_WORDS, np.exp(-distance / REACH_WORDS), 0.0)


def _turn_columns(cues: Sequence[Cue]) -> list[Floats]:
    """Return what the pauses, the sentences and the speakers say."""
    start = np.array([cue.start_s for cue in cues])
    end = np.maximum.accumulate(np.array([cue.end_s for cue in cues]))
    gaps = np.concatenate(([0.0], np.maximum(start[1:] - end[:-1], 0.0)))
    pause = np.minimum(np.log1p(gaps / _TELLING_GAP_S), CLIP)
    texts = [cue.text.rstrip() for cue in cues]
    stops = np.array([text.endswith((".", "?", "!", "\u2026", '"', "\u201d")) for text in texts])
    usual = stops.mean() if len(stops) else 0.0
    sentence = np.concatenate(([0.0], stops[:-1] - usual)) if usual > 0.0 else np.zeros(len(cues))
    turns = np.array([text.lstrip().startswith((">>", "- ", "\u2013 ")) for text in texts])
    speakers = [cue.speaker for cue in cues]
    changes = np.array([False, *(a != b for a, b in pairwise(speakers))][: len(cues)])
    return [pause - pause.mean(), sentence, (turns | changes).astype(float)]


def _cohesion_columns(words: SpokenWords, trade: Collection[str]) -> list[Floats]:
    """Return how words hold together what lies on both sides of each cue.

    A word said again soon is a link over all places between the two; few links and many new
    words mark a new subject. Sources: [morris1991] for links, [hearst1997] for new words.
    """
    before, after = _neighbours(words)
    starts = _start_times(words)
    weight = _rareness(words.stems)
    columns = [_drop(_links(words, before, weight, span), starts, words.time_s) for span in LINKS_S]
    is_new = weight * (words.time_s - before > NEW_S)
    is_old = weight * (after - words.time_s > NEW_S)
    is_trade = np.fromiter((stem in trade for stem in words.stems), float, len(words.stems))
    fresh = _rate(words, is_new, starts, after=True) - _rate(words, is_new, starts, after=False)
    stale = _rate(words, is_old, starts, after=False) - _rate(words, is_old, starts, after=True)
    new_trade = is_new * is_trade
    trade_rise = _rate(words, new_trade, starts, after=True) - _rate(
        words, new_trade, starts, after=False
    )
    begins = is_new * (after - words.time_s < AGAIN_S)
    ends = is_old * (words.time_s - before < AGAIN_S)
    bursts = (
        _sum_within(words, begins, starts, NEAR_S) - _sum_within(words, begins, starts, -NEAR_S),
        _sum_within(words, begins, starts, FAR_S) - _sum_within(words, begins, starts, -FAR_S),
        _sum_within(words, ends, starts, -FAR_S) - _sum_within(words, ends, starts, FAR_S),
    )
    return [*columns, *(_standard(column) for column in (fresh, stale, trade_rise, *bursts))]


def _start_times(words: SpokenWords) -> Floats:
    """Return the time of the first word of each cue."""
    if not len(words.time_s):
        return np.zeros(len(words.first) - 1)
    return np.asarray(words.time_s[np.minimum(words.first[:-1], len(words.time_s) - 1)])


def _neighbours(words: SpokenWords) -> tuple[Floats, Floats]:
    """Return for each word when its stem was said before and is said again; ∓inf for never."""
    count = len(words.stems)
    before, after = np.full(count, -np.inf), np.full(count, np.inf)
    last: dict[str, int] = {}
    time_s = words.time_s
    for at, found in enumerate(words.stems):
        if found:
            place = last.get(found)
            if place is not None:
                before[at] = time_s[place]
                after[place] = time_s[at]
            last[found] = at
    return before, after


def _rareness(stems: Sequence[str]) -> Floats:
    """Return what each word tells: the rarer in the show, the more; 0 for common words."""
    counts: dict[str, int] = {}
    for found in stems:
        counts[found] = counts.get(found, 0) + 1
    telling = max(len(stems) - counts.get("", 0), 1)
    return np.fromiter(
        (
            np.log(telling / counts[found]) / np.log(telling + 1.0) if found else 0.0
            for found in stems
        ),
        float,
        len(stems),
    )


def _links(words: SpokenWords, before: Floats, weight: Floats, span_s: float) -> Floats:
    """Return for each word the weight of links that span the place in front of it."""
    closes = np.flatnonzero((words.time_s - before <= span_s) & (weight > 0.0))
    opens = np.searchsorted(words.time_s, before[closes])
    change = np.zeros(len(words.time_s) + 1)
    np.add.at(change, opens + 1, weight[closes])
    np.add.at(change, closes + 1, -weight[closes])
    return np.cumsum(change)[:-1]


def _drop(links: Floats, starts: Floats, time_s: Floats) -> Floats:
    """Return how far the links at each cue lie below those around it, in standard deviations."""
    if not len(links):
        return np.zeros(len(starts))
    places = np.minimum(np.searchsorted(time_s, starts), len(links) - 1)
    total = np.concatenate(([0.0], np.cumsum(links)))
    low = np.searchsorted(time_s, starts - AROUND_S)
    high = np.maximum(np.searchsorted(time_s, starts + AROUND_S), low + 1)
    usual = (total[high] - total[low]) / (high - low)
    return _standard((usual - links[places]) / np.sqrt(usual + 1.0))


def _sum_within(words: SpokenWords, value: Floats, starts: Floats, span_s: float) -> Floats:
    """Return the sum of a value over the words up to a span after (below 0: before) each cue."""
    total = np.concatenate(([0.0], np.cumsum(value)))
    here = np.searchsorted(words.time_s, starts)
    there = np.searchsorted(words.time_s, starts + span_s)
    return np.asarray(np.abs(total[there] - total[here]))


def _rate(words: SpokenWords, value: Floats, starts: Floats, *, after: bool) -> Floats:
    """Return the mean of a value over the words shortly after or before each cue's start."""
    total = np.concatenate(([0.0], np.cumsum(value)))
    middle = np.searchsorted(words.time_s, starts)
    other = np.searchsorted(words.time_s, starts + (WINDOW_S if after else -WINDOW_S))
    low, high = (middle, other) if after else (other, middle)
    return np.asarray((total[high] - total[low]) / np.maximum(high - low, 1))


def _person_columns(words: SpokenWords) -> list[Floats]:
    """Return the rise of "I" and of telling, and the fall of advice, at each cue.

    A part opens with somebody's words about what happened and closes with what to do.
    """
    starts = _start_times(words)
    columns = []
    for sort, sign in ((FIRST_PERSON, 1.0), (TELLING, 1.0), (ADVICE, -1.0)):
        said = np.fromiter((word in sort for word in words.words), float, len(words.words))
        change = _rate(words, said, starts, after=True) - _rate(words, said, starts, after=False)
        columns.append(_standard(sign * change))
    return columns


def _standard(column: Floats) -> Floats:
    """Return a column about its mean in standard deviations, clipped."""
    spread = column.std() if len(column) else 0.0
    if spread < 1e-9:  # nothing but rounding
        return np.zeros(len(column))
    return np.asarray(np.clip((column - column.mean()) / spread, -CLIP, CLIP))


def _passages(
    words: SpokenWords, kindly: dict[str, NDArray[np.intp]], trade: Collection[str]
) -> Floats:
    """Return the counts of signs in each cue."""
    count = len(words.words)
    flags = []
    for found in kindly.values():
        flag = np.zeros(count)
        flag[found] = 1.0
        flags.append(flag)
    flags.append(np.fromiter((found in trade for found in words.stems), float, count))
    for sort in (TELLING, ADVICE):
        flags.append(np.fromiter((word in sort for word in words.words), float, count))
    total = np.concatenate((np.zeros((1, len(flags))), np.cumsum(np.column_stack(flags), axis=0)))
    return np.asarray(total[words.first[1:]] - total[words.first[:-1]])
