"""The best cut and the sums over all cuts, against listing every cut of a short line."""

from collections.abc import Iterator
from itertools import product

import numpy as np
import pytest

from triage.captions._cohesion import weigh_cohesion
from triage.captions._semi_markov import Line, Stretch, find_best, length_score, sum_all

PLACES, STATES = 5, 2
STEMS = ["bowl", "", "hair", "bowl", "dragon", "bowl", "", "hair", "dragon", "dragon"]


def make_line(seed: int, longest_s: float = 1e6) -> Line:
    rng = np.random.default_rng(seed)
    inside = np.concatenate((np.zeros((1, STATES)), rng.normal(size=(PLACES, STATES)).cumsum(0)))
    return Line(
        time_s=np.array([0.0, 3.0, 9.0, 20.0, 26.0, 40.0]),
        start=rng.normal(size=(PLACES, STATES)),
        inside=inside,
        follow=rng.normal(size=(STATES, STATES)),
        first=rng.normal(size=STATES),
        last=rng.normal(size=STATES),
        log_length=np.log([10.0, 15.0]),
        log_spread=np.array([0.5, 0.8]),
        longest_s=longest_s,
        cohesion=weigh_cohesion(STEMS, np.array([0, 2, 4, 6, 8]), concentration=5.0),
        cohesion_weight=np.array([0.7, 0.2]),
    )


def list_cuts() -> Iterator[list[Stretch]]:
    for marks in product((False, True), repeat=PLACES - 1):
        firsts = [0, *(at + 1 for at, mark in enumerate(marks) if mark)]
        ends = [*firsts[1:], PLACES]
        for states in product(range(STATES), repeat=len(firsts)):
            yield [Stretch(*found) for found in zip(firsts, ends, states, strict=True)]


def cohesion_of(stems: list[str], whole: list[str], concentration: float) -> float:
    """Return the log-likelihood ratio of words one by one: the urn grows with each of them."""
    telling = [stem for stem in whole if stem]
    total = 0.0
    drawn: list[str] = []
    for stem in filter(None, stems):
        prior = concentration * telling.count(stem) / len(telling)
        own = (drawn.count(stem) + prior) / (len(drawn) + concentration)
        total += np.log(own / (telling.count(stem) / len(telling)))
        drawn.append(stem)
    return float(total)


def score(line: Line, cut: list[Stretch]) -> float:
    total = line.first[cut[0].state] + line.last[cut[-1].state]
    for before, here in zip([None, *cut], cut, strict=False):
        if before is not None:
            total += line.follow[before.state, here.state]
        length_s = np.array([line.time_s[here.end] - line.time_s[here.first]])
        total += line.start[here.first, here.state] + length_score(line, length_s)[0, here.state]
        total += line.inside[here.end, here.state] - line.inside[here.first, here.state]
        said = cohesion_of(STEMS[2 * here.first : 2 * here.end], STEMS, 5.0)
        total += line.cohesion_weight[here.state] * said
    return float(total)


@pytest.mark.parametrize("seed", range(8))
def test_best_cut_is_the_best_of_all(seed: int) -> None:
    line = make_line(seed)

    stretches, best = find_best(line)

    scores = {tuple(cut): score(line, cut) for cut in list_cuts()}
    assert best == pytest.approx(max(scores.values()), abs=1e-4)  # repeats in single precision
    assert scores[tuple(stretches)] == pytest.approx(best, abs=1e-4)


@pytest.mark.parametrize("seed", range(4))
def test_sums_are_those_over_all_cuts(seed: int) -> None:
    line = make_line(seed)
    cuts = list(list_cuts())
    weights = np.exp([score(line, cut) for cut in cuts])
    shares = weights / weights.sum()
    starts, inside = np.zeros((PLACES, STATES)), np.zeros((PLACES, STATES))
    follow, cohesion = np.zeros((STATES, STATES)), np.zeros(STATES)
    for cut, share in zip(cuts, shares, strict=True):
        for before, here in zip([None, *cut], cut, strict=False):
            starts[here.first, here.state] += share
            inside[here.first : here.end, here.state] += share
            said = cohesion_of(STEMS[2 * here.first : 2 * here.end], STEMS, 5.0)
            cohesion[here.state] += share * said
            if before is not None:
                follow[before.state, here.state] += share

    sums = sum_all(line)

    assert sums.log_total == pytest.approx(np.log(weights.sum()), abs=1e-4)
    np.testing.assert_allclose(sums.starts, starts, atol=1e-4)
    np.testing.assert_allclose(sums.inside, inside, atol=1e-4)
    np.testing.assert_allclose(sums.follow, follow, atol=1e-4)
    np.testing.assert_allclose(sums.cohesion, cohesion, atol=1e-4)
    assert sums.last.sum() == pytest.approx(1.0, abs=1e-6)


def test_no_stretch_is_longer_than_the_longest() -> None:
    """But for one between neighbouring places that lie farther apart."""
    stretches, _ = find_best(make_line(1, longest_s=12.0))
    time_s = make_line(1).time_s

    assert all(time_s[s.end] - time_s[s.first] <= 12.0 or s.end == s.first + 1 for s in stretches)


@pytest.mark.source("eisenstein2008")
def test_cohesion_is_the_likelihood_of_an_urn() -> None:
    """The table gives for every stretch what drawing its words one by one gives."""
    cohesion = weigh_cohesion(STEMS, np.array([0, 2, 4, 6, 8]), concentration=5.0)

    for first in range(PLACES):
        for end in range(first + 1, PLACES + 1):
            expected = cohesion_of(STEMS[2 * first : 2 * end], STEMS, 5.0)
            assert cohesion.before(end, first)[0] == pytest.approx(expected, abs=1e-4)
            assert cohesion.behind(first, end + 1)[-1] == pytest.approx(expected, abs=1e-4)
