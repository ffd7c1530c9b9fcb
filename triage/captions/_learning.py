"""Corrected shows to better weights of a cut.

The weights are those under which the true cuts are likeliest, held back towards what they were:
a conditional semi-Markov model with a Gaussian prior. Sources: [sarawagi2004] for the model,
[riedmiller1993] for the steps.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from triage.captions._cohesion import Cohesion, weigh_cohesion
from triage.captions._cut_model import CutModel
from triage.captions._features import BOUNDARY_NAMES, ShowSigns, read_signs
from triage.captions._model import KINDS, Captions, Kind
from triage.captions._semi_markov import Line, Stretch, sum_all
from triage.captions._trade import list_trade_stems
from triage.captions._unplanned import PACES, at_pace, draw_line, find_places
from triage.errors import InputError
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats

STEPS = 20
PENALTY = 20.0  # of the squared change of a weight; 3 let few shows spoil more than they taught
LENGTH_PARTS = 20.0  # how many parts the lengths known before count as
_STEP, _GROW, _SHRINK, _LEAST, _MOST = 0.05, 1.2, 0.5, 1e-4, 0.5
_WEIGHTS = ("boundary", "passage", "start", "inside", "cohesion", "follow", "first", "last")
_CASE = KINDS.index("case")


@dataclass(frozen=True, slots=True)
class CorrectedShow:
    """A show whose parts somebody has put right.

    Parameters
    ----------
    captions : Captions
    starts : tuple of (float, kind), 1 or more
        When each part starts, in seconds, rising, and what kind it is.
    """

    captions: Captions
    starts: tuple[tuple[float, Kind], ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Lesson:
    """A show with its true stretches."""

    signs: ShowSigns
    places: NDArray[np.intp]
    cohesion: Cohesion
    stretches: tuple[Stretch, ...]
    pace: float

    def draw(self, model: CutModel) -> Line:
        """Return the line of the show under a model."""
        return draw_line(self.signs, self.places, self.cohesion, model)


def learn(
    model: CutModel,
    shows: Sequence[CorrectedShow],
    *,
    knowledge: Knowledge,
    steps: int = STEPS,
    hidden: float = 0.0,
    penalty: float = PENALTY,
    provenance: str = "",
) -> CutModel:
    """Return a model that has learned from corrected shows, beside what it knew.

    Parameters
    ----------
    model : CutModel
    shows : sequence of CorrectedShow
        Without any the model stays as it is.
    knowledge : Knowledge
        For the words of the trade.
    steps : int, 1 or more
        Rounds of learning; each takes about 0.1 s for an hour of captions.
    hidden : float, 0 to 1
        Share of the families of turns of speech that are hidden in a show, others in each show.
        So the model learns to do without them, as other hosts have other turns.
    penalty : float, 0 or more
        Of the squared change of each weight: how far the model keeps to what it knew.
    provenance : str
        What to write about the shows; empty keeps what is written.

    Raises
    ------
    InputError
        If a show has no parts, their starts do not rise, or a kind is unknown.
    """
    if not shows:
        return model
    trade = list_trade_stems(knowledge)
    lessons = [
        _hide(_prepare(show, trade, model), number, hidden) for number, show in enumerate(shows)
    ]
    learned = _learn_lengths(model, lessons)
    start = {name: getattr(learned, name) for name in _WEIGHTS}
    weights = dict(start)
    size = {name: np.full_like(table, _STEP) for name, table in weights.items()}
    before = {name: np.zeros_like(table) for name, table in weights.items()}
    for _ in range(steps):
        slope = {name: -penalty * (weights[name] - start[name]) for name in _WEIGHTS}
        current = replace(learned, **weights)
        for lesson in lessons:
            for name, part in _slope(current, lesson).items():
                slope[name] = slope[name] + part
        for name in _WEIGHTS:  # resilient steps: as far as a slope keeps its sign
            agree = slope[name] * before[name]
            factor = np.where(agree > 0.0, _GROW, np.where(agree < 0.0, _SHRINK, 1.0))
            size[name] = np.clip(size[name] * factor, _LEAST, _MOST)
            before[name] = np.where(agree < 0.0, 0.0, slope[name])
            weights[name] = weights[name] + np.sign(before[name]) * size[name]
    return replace(
        learned,
        **weights,
        shows=model.shows + len(shows),
        provenance=provenance or model.provenance,
    )


def _prepare(show: CorrectedShow, trade: frozenset[str], model: CutModel) -> _Lesson:
    """Return a show as signs, with each true start at the nearest place."""
    times = [start_s for start_s, _ in show.starts]
    if not times or any(b <= a for a, b in pairwise(times)):
        msg = "a corrected show needs parts, each starting after the one before it"
        raise InputError(msg)
    unknown = {kind for _, kind in show.starts} - set(KINDS)
    if unknown:
        msg = f"a part is one of {', '.join(KINDS)}, not {sorted(unknown)}"
        raise InputError(msg)
    signs = read_signs(show.captions, trade=trade)
    places = find_places(signs, model)
    at_s = signs.start_s[places]
    starts: dict[int, int] = {}
    for at, (start_s, kind) in enumerate(show.starts):
        place = int(np.abs(at_s - start_s).argmin()) if at else 0
        starts[place] = KINDS.index(kind)
    firsts = sorted(starts)
    ends = [*firsts[1:], len(places)]
    stretches = tuple(Stretch(a, b, starts[a]) for a, b in zip(firsts, ends, strict=True))
    cohesion = weigh_cohesion(signs.words.stems, signs.words.first[places])
    line = draw_line(signs, places, cohesion, model)
    lengths = [
        np.log(max(line.time_s[s.end] - line.time_s[s.first], 1.0))
        for s in stretches
        if s.state == _CASE
    ]
    offset = float(np.mean(lengths)) - model.log_length[_CASE] if lengths else 0.0
    pace = min(PACES, key=lambda pace: abs(np.log(pace) - offset))
    return _Lesson(signs, places, cohesion, stretches, pace)


def _hide(lesson: _Lesson, number: int, share: float) -> _Lesson:
    """Return a lesson with a share of the families of turns of speech taken out of its signs."""
    boundary = lesson.signs.boundary.copy()
    for column, name in enumerate(BOUNDARY_NAMES):
        is_turn = name.startswith(("open-", "close-"))
        if is_turn and (number * 0.618 + column * 0.382) % 1.0 < share:  # spread evenly, no chance
            boundary[:, column] = 0.0
    return replace(lesson, signs=replace(lesson.signs, boundary=boundary))


def _learn_lengths(model: CutModel, lessons: Sequence[_Lesson]) -> CutModel:
    """Return the model with lengths learned; those of cases beside their show's pace."""
    means, spreads = model.log_length.copy(), model.log_spread.copy()
    for state in range(len(KINDS)):
        found = []
        for lesson in lessons:
            line = lesson.draw(model)
            pace = np.log(lesson.pace) if state == _CASE else 0.0
            found += [
                np.log(max(line.time_s[s.end] - line.time_s[s.first], 1.0)) - pace
                for s in lesson.stretches
                if s.state == state
            ]
        if found:
            total = LENGTH_PARTS + len(found)
            mean = (LENGTH_PARTS * means[state] + sum(found)) / total
            squares = sum((value - mean) ** 2 for value in found)
            spreads[state] = np.sqrt((LENGTH_PARTS * spreads[state] ** 2 + squares) / total)
            means[state] = mean
    return replace(model, log_length=means, log_spread=spreads)


def _slope(model: CutModel, lesson: _Lesson) -> dict[str, Floats]:
    """Return the slope of the log-likelihood of a show's true cut."""
    line = at_pace(lesson.draw(model), lesson.pace)
    sums = sum_all(line)
    starts, inside, follow, last = -sums.starts, -sums.inside, -sums.follow, -sums.last
    first = -sums.starts[0]
    starts = starts.copy()
    for before, stretch in zip((None, *lesson.stretches), lesson.stretches, strict=False):
        starts[stretch.first, stretch.state] += 1.0
        inside[stretch.first : stretch.end, stretch.state] += 1.0
        if before is not None:
            follow[before.state, stretch.state] += 1.0
    first = first + np.eye(len(KINDS))[lesson.stretches[0].state]
    last = last + np.eye(len(KINDS))[lesson.stretches[-1].state]
    passages = _between(lesson, line)
    return {
        "boundary": lesson.signs.boundary[lesson.places].T @ starts,
        "passage": passages[:, :-1].T @ inside,
        "start": starts.sum(axis=0),
        "inside": passages[:, -1] @ inside,
        "cohesion": _true_cohesion(line, lesson.stretches) - sums.cohesion,
        "follow": follow,
        "first": first,
        "last": last,
    }


def _true_cohesion(line: Line, stretches: Sequence[Stretch]) -> Floats:
    """Return the cohesion of the true stretches of each kind together."""
    found = np.zeros(len(KINDS))
    if line.cohesion is not None:
        for stretch in stretches:
            found[stretch.state] += line.cohesion.before(stretch.end, stretch.first)[0]
    return found


def _between(lesson: _Lesson, line: Line) -> Floats:
    """Return the signs said between each place and the next, and the minutes between them."""
    ends = np.append(lesson.places, len(lesson.signs.start_s))
    running = np.concatenate(
        (np.zeros((1, lesson.signs.passage.shape[1])), np.cumsum(lesson.signs.passage, axis=0))
    )
    return np.column_stack((np.diff(running[ends], axis=0), np.diff(line.time_s) / 60.0))
