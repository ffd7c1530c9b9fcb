"""Stretches of a line, each with a state and a length: the best cut, and how sure it is.

A semi-Markov model: a cut's score is the sum over its stretches of what speaks for a start there,
for the state throughout, for the length, and for the state following the one before. Source:
[sarawagi2004].
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from triage.captions._cohesion import Cohesion
from triage.knowledge._model import Floats

NEVER = -1e9  # of a logarithm: far below anything that can add up, and yet finite
SHORTEST_S = 1.0  # stretches are taken to be at least as long, so that logarithms exist


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """What is known of a line on which stretches are to be found.

    Parameters
    ----------
    time_s : array, shape (places + 1,)
        Where stretches may start, rising; the last is the end of the line.
    start : array, shape (places, states)
        What speaks for a stretch of a state that starts at a place.
    inside : array, shape (places + 1, states)
        Running sum of what speaks for a state between the places; begins with 0.
    follow : array, shape (states, states)
        What speaks for a state (column) behind another (row).
    first, last : array, shape (states,)
        What speaks for a state at the start and at the end of the line.
    log_length, log_spread : array, shape (states,)
        Mean and standard deviation of the logarithm of the length in seconds.
    longest_s : float
        No stretch is longer, unless there are no places between.
    cohesion : Cohesion or None
        How well the words of every stretch belong together.
    cohesion_weight : array, shape (states,)
        What that counts for a stretch of each state.
    """

    time_s: Floats
    start: Floats
    inside: Floats
    follow: Floats
    first: Floats
    last: Floats
    log_length: Floats
    log_spread: Floats
    longest_s: float
    cohesion: Cohesion | None = None
    cohesion_weight: Floats = field(default_factory=lambda: np.zeros(1))


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch from one place to another (exclusive) in a state."""

    first: int
    end: int
    state: int


@dataclass(frozen=True, slots=True, eq=False)
class Sums:
    """What all cuts together say.

    Parameters
    ----------
    log_total : float
        Logarithm of the sum over all cuts of exp(score).
    starts : array, shape (places, states)
        Probability that a stretch of a state starts at a place.
    inside : array, shape (places, states)
        Probability of each state between a place and the next.
    follow : array, shape (states, states)
        Expected number of times a state (column) stands behind another (row).
    last : array, shape (states,)
        Probability of each state at the end.
    cohesion : array, shape (states,)
        Expected cohesion of all stretches of a state together; 0 where none was given.
    """

    log_total: float
    starts: Floats
    inside: Floats
    follow: Floats
    last: Floats
    cohesion: Floats


def find_best(line: Line) -> tuple[list[Stretch], float]:
    """Return the stretches of the best cut, in order, and its score."""
    places, states = line.start.shape
    enter = np.full((places + 1, states), NEVER)  # best score up to a start, without its sum
    leave = np.full((places + 1, states), NEVER)
    came_from = np.zeros((places + 1, states), dtype=np.intp)
    started = np.zeros((places + 1, states), dtype=np.intp)
    enter[0] = line.first + line.start[0]
    lows = _lows(line)
    for at in range(1, places + 1):
        low = lows[at]
        scores = enter[low:at] + _scores_before(line, low, at)
        best = scores.argmax(axis=0)
        started[at] = best + low
        leave[at] = scores[best, np.arange(states)] + line.inside[at]
        if at < places:
            moves = leave[at][:, None] + line.follow
            came_from[at] = moves.argmax(axis=0)
            enter[at] = moves.max(axis=0) + line.start[at] - line.inside[at]
    final = leave[places] + line.last
    state, at = int(final.argmax()), places
    found = []
    while at > 0:
        first = int(started[at, state])
        found.append(Stretch(first, at, state))
        at, state = first, int(came_from[first, state])
    return found[::-1], float(final.max())


def sum_all(line: Line) -> Sums:
    """Return the sum over all cuts, and the probabilities of what they hold."""
    states = line.start.shape[1]
    enter, leave, log_total = _look_ahead(line)
    rest, beyond, cohesion = _look_back(line, _lows(line), enter - log_total)
    starts = _chance(enter[:-1] + rest - log_total)
    ends = _chance(leave + beyond - log_total)
    onwards = line.start - line.inside[:-1] + rest
    follow = np.zeros((states, states))
    for state in range(states):  # one row at a time keeps the table small
        moves = leave[1:-1, state, None] + line.follow[state] + onwards[1:]
        follow[state] = _chance(moves - log_total).sum(axis=0)
    inside = np.cumsum(starts - np.concatenate((np.zeros((1, states)), ends[1:-1])), axis=0)
    return Sums(log_total, starts, np.clip(inside, 0.0, 1.0), follow, ends[-1], cohesion)


def _look_ahead(line: Line) -> tuple[Floats, Floats, float]:
    """Return the log sums over all in front of a start and of an end, and over everything."""
    places, states = line.start.shape
    enter = np.full((places + 1, states), NEVER)  # up to a start, without its running sum
    leave = np.full((places + 1, states), NEVER)
    enter[0] = line.first + line.start[0]
    lows = _lows(line)
    for at in range(1, places + 1):
        low = lows[at]
        leave[at] = _log_sum(enter[low:at] + _scores_before(line, low, at)) + line.inside[at]
        if at < places:
            moves = _log_sum(leave[at][:, None] + line.follow)
            enter[at] = moves + line.start[at] - line.inside[at]
    return enter, leave, float(_log_sum((leave[places] + line.last)[:, None])[0])


def _look_back(line: Line, lows: NDArray[np.intp], enter: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the log sums over all behind a start and behind an end, and expected cohesion."""
    places, states = line.start.shape
    rest = np.full((places, states), NEVER)
    beyond = np.full((places + 1, states), NEVER)
    beyond[places] = line.last
    expected = np.zeros(states)
    highs = np.searchsorted(lows, np.arange(places), side="right")  # ends that reach back to it
    for at in range(places - 1, -1, -1):
        high = max(int(highs[at]), at + 2)
        scores = length_score(line, line.time_s[at + 1 : high] - line.time_s[at])
        behind = None if line.cohesion is None else line.cohesion.behind(at, high)
        if behind is not None:
            scores += behind[:, None] * line.cohesion_weight
        scores += beyond[at + 1 : high] + line.inside[at + 1 : high]
        rest[at] = _log_sum(scores)
        if behind is not None:
            expected += behind @ _chance(scores + enter[at])
        if at:
            onwards = line.start[at] - line.inside[at] + rest[at]
            beyond[at] = _log_sum((line.follow + onwards).T)
    return rest, beyond, expected


def length_score(line: Line, length_s: Floats) -> Floats:
    """Return the log density of lengths for every state, shape (lengths, states)."""
    log_s = np.log(np.maximum(length_s, SHORTEST_S))[:, None]
    scaled = (log_s - line.log_length) / line.log_spread
    return np.asarray(-0.5 * scaled**2 - np.log(line.log_spread) - log_s)


def _lows(line: Line) -> NDArray[np.intp]:
    """Return for each end the first start that lies within the longest stretch."""
    lows = np.searchsorted(line.time_s, line.time_s - line.longest_s)
    return np.minimum(lows, np.maximum(np.arange(len(lows)) - 1, 0))


def _scores_before(line: Line, low: int, at: int) -> Floats:
    """Return what speaks for the stretches from `low`, `low` + 1, … up to an end."""
    scores = length_score(line, line.time_s[at] - line.time_s[low:at])
    if line.cohesion is not None:
        scores += line.cohesion.before(at, low)[:, None] * line.cohesion_weight
    return scores


def _chance(log_chance: Floats) -> Floats:
    """Return probabilities, none above 1 however cuts that are next to impossible are rounded."""
    return np.asarray(np.exp(np.minimum(log_chance, 0.0)))


def _log_sum(values: Floats) -> Floats:
    """Return the log of the sum of exp over the rows."""
    top = values.max(axis=0)
    return np.asarray(top + np.log(np.exp(values - top).sum(axis=0)))
