"""Cutting a show of which nothing is known beforehand.

The signs of a show are a line (see `_semi_markov`) with four states, the kinds of parts. All cuts
at several paces are weighed together. Of a very long file one window after another is cut.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from triage.captions._cohesion import Cohesion, weigh_cohesion
from triage.captions._cut_model import CutModel
from triage.captions._features import ShowSigns
from triage.captions._model import KINDS
from triage.captions._semi_markov import NEVER, Line, Stretch, sum_all
from triage.captions._words import SpokenWords
from triage.knowledge._model import Floats

SPACING_S = 2.5  # of the show for each place at which a part may start
LONGEST_S = 1800.0  # of a part without a run sheet
# Cases of one show are alike in length, those of two shows are not: the show's own pace is found
# among these multiples of the usual length [judgement: desk, 2026-11]
PACES = (0.4, 0.63, 1.0, 1.6, 2.5)
PACE_SPREAD = 0.7  # of the logarithm of the pace
PEAK_S = 7.5  # starts so near each other are one
APART_S = 16.0  # and no two parts start nearer to each other than this
ENOUGH = 0.25  # of its probability; chosen on the manners of trying.toml, see docs/archive.md
# Places of a window, about two hours: the table of cohesion grows with their square
MOST_PLACES = 3000
_CASE = KINDS.index("case")
_IS_CASE = np.array([float(kind == "case") for kind in KINDS])


def find_places(signs: ShowSigns, model: CutModel) -> NDArray[np.intp]:
    """Return the cues at which a part may start: the likeliest of every few seconds.

    The first cue of the show is always one of them.
    """
    likely = (signs.boundary @ model.boundary).max(axis=1)
    span = ((signs.start_s - signs.start_s[0]) // SPACING_S).astype(np.intp)
    likely[0] = np.inf
    order = np.lexsort((-likely, span))  # by span, the likeliest first
    is_first = np.concatenate(([True], np.diff(span[order]) > 0))
    return np.asarray(order[is_first])


def draw_line(
    signs: ShowSigns, places: NDArray[np.intp], cohesion: Cohesion, model: CutModel
) -> Line:
    """Return a show as a line for the model's four kinds."""
    time_s = np.append(signs.start_s[places], signs.end_s)
    running = np.concatenate((np.zeros((1, signs.passage.shape[1])), np.cumsum(signs.passage, 0)))
    ends = np.append(places, len(signs.start_s))
    minutes = (time_s - time_s[0])[:, None] / 60.0
    return Line(
        time_s=time_s,
        start=signs.boundary[places] @ model.boundary + model.start,
        inside=running[ends] @ model.passage + minutes * model.inside,
        follow=model.follow,
        first=model.first,
        last=model.last,
        log_length=model.log_length,
        log_spread=model.log_spread,
        longest_s=LONGEST_S,
        cohesion=cohesion,
        cohesion_weight=model.cohesion,
    )


def cut_signs(
    signs: ShowSigns, places: NDArray[np.intp], model: CutModel
) -> tuple[list[Stretch], Floats]:
    """Return the cut of a show, and the probability of a start at each place.

    A file of many hours is cut in windows; the last part of a window is cut again with the next.
    """
    found: list[Stretch] = []
    starts = np.zeros(len(places))
    first = 0
    while first < len(places):
        end = min(first + MOST_PLACES, len(places))
        here = _in_window(model, is_first=first == 0, is_last=end == len(places))
        stretches, likely = _cut_window(*_take(signs, places, first, end), here)
        starts[first:end] = likely
        if end < len(places) and len(stretches) > 1:
            end = first + stretches.pop().first
        found += [replace(s, first=s.first + first, end=s.end + first) for s in stretches]
        first = end
    return found, starts


def _in_window(model: CutModel, *, is_first: bool, is_last: bool) -> CutModel:
    """Return the model for a window that does not begin or not end with the show."""
    first = model.first if is_first else model.follow[_CASE]
    return replace(model, first=first, last=model.last if is_last else np.zeros(len(KINDS)))


def _take(
    signs: ShowSigns, places: NDArray[np.intp], first: int, end: int
) -> tuple[ShowSigns, NDArray[np.intp]]:
    """Return the signs and places of a window."""
    if (first, end) == (0, len(places)):
        return signs, places
    cue = int(places[first])
    is_last = end == len(places)
    cue_end = len(signs.start_s) if is_last else int(places[end])
    words, word, word_end = signs.words, signs.words.first[cue], signs.words.first[cue_end]
    inner = SpokenWords(
        words.words[word:word_end],
        words.stems[word:word_end],
        words.time_s[word:word_end],
        words.first[cue : cue_end + 1] - word,
    )
    taken = ShowSigns(
        start_s=signs.start_s[cue:cue_end],
        end_s=signs.end_s if is_last else float(signs.start_s[cue_end]),
        boundary=signs.boundary[cue:cue_end],
        passage=signs.passage[cue:cue_end],
        words=inner,
    )
    return taken, places[first:end] - cue


def _cut_window(
    signs: ShowSigns, places: NDArray[np.intp], model: CutModel
) -> tuple[list[Stretch], Floats]:
    """Return the cut of a window, and the probability of a start at each of its places.

    All cuts at all paces are weighed together. A part starts where enough of them start one
    nearby; its kind is the likeliest between its start and the next.
    """
    cohesion = weigh_cohesion(signs.words.stems, signs.words.first[places])
    line = draw_line(signs, places, cohesion, model)
    sums = sum_all(at_all_paces(line))
    starts = sums.starts.sum(axis=1)
    inside = sums.inside.reshape(len(places), len(PACES), len(KINDS)).sum(axis=1)
    firsts = _pick_starts(starts, signs.start_s[places])
    total = np.concatenate((np.zeros((1, len(KINDS))), np.cumsum(inside, axis=0)))
    ends = [*firsts[1:], len(places)]
    kinds = [
        int((total[end] - total[first]).argmax()) for first, end in zip(firsts, ends, strict=True)
    ]
    return [Stretch(*found) for found in zip(firsts, ends, kinds, strict=True)], starts


def _pick_starts(starts: Floats, start_s: Floats) -> list[int]:
    """Return the places where parts start: the first one, and peaks of probability nearby."""
    near = sum_near(starts, start_s, PEAK_S)
    taken = np.zeros(len(starts), dtype=bool)
    chosen = [0]
    taken[np.abs(start_s - start_s[0]) < APART_S] = True
    for at in np.argsort(-near, kind="stable").tolist():
        if near[at] < ENOUGH:
            break
        if taken[at]:
            continue
        low = np.searchsorted(start_s, start_s[at] - PEAK_S, side="left")
        high = np.searchsorted(start_s, start_s[at] + PEAK_S, side="right")
        place = int(low + starts[low:high].argmax())  # the likeliest single place of the peak
        chosen.append(place)
        low = np.searchsorted(start_s, start_s[place] - APART_S, side="left")
        high = np.searchsorted(start_s, start_s[place] + APART_S, side="right")
        taken[low:high] = True
    return sorted(set(chosen))


def sum_near(starts: Floats, start_s: Floats, span_s: float) -> Floats:
    """Return the sum of a probability over the places within a span of each place."""
    total = np.concatenate(([0.0], np.cumsum(starts)))
    low = np.searchsorted(start_s, start_s - span_s, side="left")
    high = np.searchsorted(start_s, start_s + span_s, side="right")
    return np.asarray(total[high] - total[low])


def at_pace(line: Line, pace: float) -> Line:
    """Return a line whose cases are longer or shorter than usual by a factor."""
    return replace(line, log_length=line.log_length + np.log(pace) * _IS_CASE)


def at_all_paces(line: Line) -> Line:
    """Return a line with a state for each kind at each pace, kept throughout the show."""
    count = len(PACES)
    pace = np.log(np.repeat(PACES, len(KINDS)))
    same = np.kron(np.eye(count), np.ones(line.follow.shape)) > 0.0
    return replace(
        line,
        start=np.tile(line.start, count),
        inside=np.tile(line.inside, count),
        follow=np.where(same, np.tile(line.follow, (count, count)), NEVER),
        first=np.tile(line.first, count) - 0.5 * (pace / PACE_SPREAD) ** 2,
        last=np.tile(line.last, count),
        log_length=np.tile(line.log_length, count) + pace * np.tile(_IS_CASE, count),
        log_spread=np.tile(line.log_spread, count),
        cohesion_weight=np.tile(line.cohesion_weight, count),
    )
