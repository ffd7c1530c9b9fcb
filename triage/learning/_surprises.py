"""Findings that keep company with a fault although nothing links them: links to think about."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from triage.knowledge import Knowledge
from triage.learning._lessons import INDEPENDENT, Lesson, sift_lessons

LEAST_LESSONS = 5  # fewer looks at a pair are not worth an expert's time
# How many of the pairs listed may be there by chance, on average, if no link is missing.
FALSE_PAIRS = 0.05


@dataclass(frozen=True, slots=True)
class Surprise:
    """A finding seen with a fault more often than the network explains.

    Parameters
    ----------
    fault, finding : str
        A pair without a link.
    lessons : int
        Lessons with the fault in which the finding was looked for.
    present : int
        In how many of them it was present.
    expected : float
        In how many the network expects it: by the leak and the other faults confirmed.
    chance : float, 0 to 1
        Probability of so many or more if the network were right.
    """

    fault: str
    finding: str
    lessons: int
    present: int
    expected: float
    chance: float


def list_surprises(knowledge: Knowledge, lessons: Iterable[Lesson]) -> tuple[Surprise, ...]:
    """Return the pairs of fault and finding that may want a link, for the experts to judge.

    Nothing is added by itself: what comes with a fault need not come from it. Accepted
    suggestions are left out, for the network chose their faults.

    Parameters
    ----------
    knowledge : Knowledge
        The expert's, or better a revision, whose leaks are counted rather than estimated.
    lessons : iterable of Lesson

    Returns
    -------
    tuple of Surprise
        The least probable first. Were no link missing, one would be listed by chance in about
        twenty calls, however many pairs were looked at.
    """
    usable = [
        lesson for lesson in sift_lessons(knowledge, lessons).lessons if lesson.basis in INDEPENDENT
    ]
    pairs = _gather_pairs(knowledge, usable)
    enough = {pair: looks for pair, looks in pairs.items() if len(looks) >= LEAST_LESSONS}
    found = []
    for (fault, finding), looks in enough.items():
        present = sum(is_so for is_so, _ in looks)
        chances = [chance for _, chance in looks]
        tail = chance_of_at_least(present, chances)
        if tail * len(enough) <= FALSE_PAIRS:
            surprise = Surprise(fault, finding, len(looks), present, sum(chances), tail)
            found.append(surprise)
    return tuple(sorted(found, key=lambda pair: (pair.chance, pair.fault, pair.finding)))


def _gather_pairs(
    knowledge: Knowledge, lessons: Sequence[Lesson]
) -> dict[tuple[str, str], list[tuple[bool, float]]]:
    """Return, by fault and finding without a link, what was seen and its probability."""
    network = knowledge.network
    pairs: dict[tuple[str, str], list[tuple[bool, float]]] = defaultdict(list)
    for lesson in lessons:
        rows = [network.fault_at[fault] for fault in sorted(lesson.faults)]
        for finding, is_so in lesson.findings.items():
            at = network.finding_at[finding]
            links = network.link[rows, at]
            chance = 1.0 - float((1.0 - network.leak[at]) * (1.0 - links).prod())
            for row, link in zip(rows, links, strict=True):
                if link == 0.0:
                    pairs[network.fault_ids[row], finding].append((is_so, chance))
    return pairs


def chance_of_at_least(count: int, chances: Sequence[float]) -> float:
    """Return the probability of so many or more successes of independent trials.

    Parameters
    ----------
    count : int, 0 or more
    chances : sequence of float, shape (trials,), 0 to 1
        Probability of success of each trial; they may differ.

    Returns
    -------
    float
    """
    exactly = np.zeros(len(chances) + 1)
    exactly[0] = 1.0
    for chance in chances:
        exactly[1:] = exactly[1:] * (1.0 - chance) + exactly[:-1] * chance
        exactly[0] *= 1.0 - chance
    return float(exactly[count:].sum())
