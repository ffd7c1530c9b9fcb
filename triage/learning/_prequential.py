"""Whether learning foresees the next case better than the expert does."""

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from triage.errors import OutOfRangeError
from triage.inference import Posterior, compute_posterior
from triage.knowledge import Knowledge
from triage.learning._counts import Counts
from triage.learning._credit import learn
from triage.learning._lessons import INDEPENDENT, Lesson, Skipped, sift_lessons
from triage.learning._revision import revise
from triage.workings.forecasts import brier_score, log_loss

BLOCK = 50  # lessons scored before learning anew [judgement: desk, 2026-11-25]
GROWTH = 0.1  # of the lessons so far: a later block is at least as long, so that time stays linear


@dataclass(frozen=True, slots=True)
class Loss:
    """How far a forecast of the faults of one case was from the verdict.

    Parameters
    ----------
    bits : float, 0 or more
        Log-loss: surprise at the verdict, summed over the faults that could occur.
    brier : float, 0 or more
        Squared difference between probability and verdict, summed in the same way.
    """

    bits: float
    brier: float


@dataclass(frozen=True, slots=True)
class Foreseen:
    """One lesson with the loss of both networks before it was learned from."""

    lesson: str
    expert: Loss
    learned: Loss


@dataclass(frozen=True, slots=True)
class Prequential:
    """The losses in the order of the lessons.

    Parameters
    ----------
    foreseen : tuple of Foreseen
        Lessons that could judge, in their order.
    unscored : int
        Lessons that were learned from but not scored, because their verdict came from the
        suggestion itself.
    skipped : tuple of Skipped
        What could not be used.
    """

    foreseen: tuple[Foreseen, ...]
    unscored: int
    skipped: tuple[Skipped, ...]

    @property
    def expert(self) -> Loss:
        """Mean loss of the expert's network a lesson; 0 without lessons."""
        return _mean([row.expert for row in self.foreseen])

    @property
    def learned(self) -> Loss:
        """Mean loss a lesson of the network learned from all lessons before it."""
        return _mean([row.learned for row in self.foreseen])

    def curve(self) -> tuple[float, ...]:
        """Return the bits learning has saved up to and including each lesson scored.

        Rising: the learned network foresees better than the expert's.
        """
        saved = [row.expert.bits - row.learned.bits for row in self.foreseen]
        return tuple(np.cumsum(saved).tolist())

    def to_json(self) -> dict[str, Any]:
        """Return the losses as plain values: rows of lesson, bits and Brier of both networks."""
        return {
            "expert": {"bits": self.expert.bits, "brier": self.expert.brier},
            "learned": {"bits": self.learned.bits, "brier": self.learned.brier},
            "unscored": self.unscored,
            "foreseen": [
                [r.lesson, r.expert.bits, r.learned.bits, r.expert.brier, r.learned.brier]
                for r in self.foreseen
            ],
        }


def score_prequential(
    knowledge: Knowledge, lessons: Iterable[Lesson], *, block: int = BLOCK
) -> Prequential:
    """Return how well the verdict of each lesson was foreseen from the lessons before it.

    Lessons whose verdict is an accepted suggestion are learned from but not scored: a network
    would be praised for agreeing with itself.

    Parameters
    ----------
    knowledge : Knowledge
        The expert's, not a revision.
    lessons : iterable of Lesson
        In the order they came.
    block : int, 1 or more
        Learning starts anew after so many lessons, or after a tenth more than there were,
        whichever is later; within a block the network stays the same.

    Returns
    -------
    Prequential

    Raises
    ------
    OutOfRangeError
        If `block` is below 1.
    InputError
        If the knowledge is a revision.

    Notes
    -----
    Each case is forecast before it is learned from, so no case judges a network that has seen
    it. Source: [dawid1984], the prequential approach.
    """
    if block < 1:
        msg = f"a block of {block} lessons must hold 1 or more"
        raise OutOfRangeError(msg)
    sifted = sift_lessons(knowledge, lessons)
    usable = sifted.lessons
    rows: list[Foreseen] = []
    start = 0
    while start < len(usable):
        end = start + max(block, int(GROWTH * start))
        counts = learn(knowledge, usable[:start]) if start else Counts()
        learned = revise(knowledge, counts)
        rows += [
            Foreseen(lesson.id, score_lesson(knowledge, lesson), score_lesson(learned, lesson))
            for lesson in usable[start:end]
            if lesson.basis in INDEPENDENT
        ]
        start = end
    return Prequential(tuple(rows), len(usable) - len(rows), sifted.skipped)


def score_lesson(knowledge: Knowledge, lesson: Lesson) -> Loss:
    """Return the loss of a network's forecast of the verdict of one lesson.

    Parameters
    ----------
    knowledge : Knowledge
        The expert's or a revision.
    lesson : Lesson
        With ids the knowledge holds. What its remedies did is not used, for it came later.

    Returns
    -------
    Loss

    Raises
    ------
    UnknownIdError
        If the lesson names something the knowledge does not hold.
    """
    return score_forecast(compute_posterior(knowledge, lesson.evidence()), lesson.faults)


def score_forecast(posterior: Posterior, faults: Collection[str]) -> Loss:
    """Return the loss of a posterior against the faults that were there.

    Parameters
    ----------
    posterior : Posterior
        With at least one fault that can occur.
    faults : collection of str

    Returns
    -------
    Loss
    """
    possible = [fault for fault in posterior.ranked if fault.prior > 0.0]
    has = [fault.id in faults for fault in possible]
    chances = [fault.probability for fault in possible]
    # Means over the faults, made sums: a case is one verdict.
    return Loss(
        bits=log_loss(has, chances) * len(possible) / math.log(2.0),
        brier=brier_score(has, chances) * len(possible),
    )


def _mean(losses: list[Loss]) -> Loss:
    """Return the mean of losses, 0 without any."""
    if not losses:
        return Loss(0.0, 0.0)
    return Loss(
        bits=sum(loss.bits for loss in losses) / len(losses),
        brier=sum(loss.brier for loss in losses) / len(losses),
    )
