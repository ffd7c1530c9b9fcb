"""Stretches of a line, each with a state and a length: the best cut, and how sure it is.

A semi-Markov model: a cut's score is the sum over its stretches of what speaks for a start there,
for the state throughout, for the length, and for the state following the one before. Source:
[sarawagi2004].
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
    """

    log_total: float
    starts: Floats


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
        scores = enter[low:at] + _length_scores(line, low, at)
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
    """Return the sum over all cuts, and the probability of each start."""
    places, states = line.start.shape
    enter = np.full((places + 1, states), NEVER)
    leave = np.full((places + 1, states), NEVER)
    enter[0] = line.first + line.start[0]
    lows = _lows(line)
    for at in range(1, places + 1):
        low = lows[at]
        leave[at] = _log_sum(enter[low:at] + _length_scores(line, low, at)) + line.inside[at]
        if at < places:
            moves = _log_sum(leave[at][:, None] + line.follow)
            enter[at] = moves + line.start[at] - line.inside[at]
    log_total = float(_log_sum((leave[places] + line.last)[:, None])[0])
    return Sums(log_total, np.exp(enter[:-1] + _rest(line, lows) - log_total))


def _rest(line: Line, lows: NDArray[np.intp]) -> Floats:
    """Return the log sum over everything behind a start, shape (places, states)."""
    places, states = line.start.shape
    rest = np.full((places + 1, states), NEVER)  # behind a start, without its running sum
    after = np.full((places + 1, states), NEVER)  # behind an end, with the running sum
    after[places] = line.last + line.inside[places]
    highs = np.searchsorted(lows, np.arange(places), side="right")  # ends that reach back to it
    for at in range(places - 1, -1, -1):
        high = max(int(highs[at]), at + 2)
        lengths = _length_to(line, at, high)
        rest[at] = _log_sum(after[at + 1 : high] + lengths)
        if at:
            onwards = line.start[at] - line.inside[at] + rest[at]
            after[at] = _log_sum((line.follow + onwards).T) + line.inside[at]
    return rest[:-1]


def length_score(line: Line, length_s: Floats) -> Floats:
    """Return the log density of lengths for every state, shape (lengths, states)."""
    log_s = np.log(np.maximum(length_s, SHORTEST_S))[:, None]
    scaled = (log_s - line.log_length) / line.log_spread
    return np.asarray(-0.5 * scaled**2 - np.log(line.log_spread) - log_s)


def _lows(line: Line) -> NDArray[np.intp]:
    """Return for each end the first start that lies within the longest stretch."""
    lows = np.searchsorted(line.time_s, line.time_s - line.longest_s)
    return np.minimum(lows, np.maximum(np.arange(len(lows)) - 1, 0))


def _length_scores(line: Line, low: int, at: int) -> Floats:
    return length_score(line, line.time_s[at] - line.time_s[low:at])


def _length_to(line: Line, at: int, high: int) -> Floats:
    return length_score(line, line.time_s[at + 1 : high] - line.time_s[at])


def _log_sum(values: Floats) -> Floats:
    """Return the log of the sum of exp over the rows."""
    top = values.max(axis=0)
    return np.asarray(top + np.log(np.exp(values - top).sum(axis=0)))
