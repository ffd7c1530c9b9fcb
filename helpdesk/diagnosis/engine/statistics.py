"""Shares with their intervals and agreement of people, as plain frozen values of the desk."""

from collections.abc import Sequence
from dataclasses import dataclass

from triage.workings.agreement import (
    cohen_kappa,
    count_ratings,
    fleiss_kappa,
    free_marginal_kappa,
)
from triage.workings.proportions import wilson_interval
from triage.workings.survival import product_limit, time_until


@dataclass(frozen=True)
class Share:
    """How many of how many, with the ends of Wilson's 95 % interval."""

    successes: int
    trials: int
    low: float
    high: float

    @property
    def value(self) -> float:
        """Return the share itself."""
        return self.successes / self.trials


@dataclass(frozen=True)
class Waits:
    """How long a wait takes: `total` waits of which `ended` are over.

    `median` and `ninetieth` are None while fewer than that share of the waits are over; a wait
    that is not over counts as at least so long.
    """

    total: int
    ended: int
    median: float | None
    ninetieth: float | None


def describe_waits(times: Sequence[float], has_ended: Sequence[bool]) -> Waits:
    """Return how long waits take, by the product-limit estimate."""
    steps = product_limit(times, has_ended)
    return Waits(
        total=len(times),
        ended=sum(has_ended),
        median=time_until(steps, 0.5),
        ninetieth=time_until(steps, 0.9),
    )


@dataclass(frozen=True)
class PairAgreement:
    """Agreement of two reviewers on the main fault.

    `kappa` takes chance from how often each names which fault, `free_kappa` from all faults being
    named equally often; `kappa` is None where both always named the same one.
    """

    observed: Share
    kappa: float | None
    free_kappa: float | None


def share_of(successes: int, trials: int) -> Share:
    """Return a share with its interval; `trials` is 1 or more."""
    interval = wilson_interval(successes, trials)
    return Share(successes, trials, interval.low, interval.high)


def pair_agreement(
    first: Sequence[str], second: Sequence[str], classes: Sequence[str]
) -> PairAgreement:
    """Return the agreement of two reviewers on the same cases, one or more.

    `classes` are all faults that could have been named; one no longer known is added to them.
    """
    kappa = cohen_kappa(first, second)
    every = sorted({*classes, *first, *second})
    free = free_marginal_kappa(count_ratings(list(zip(first, second, strict=True)), every))
    same = sum(one == other for one, other in zip(first, second, strict=True))
    return PairAgreement(share_of(same, kappa.count), kappa.kappa, free.kappa)


def group_kappa(ratings: Sequence[Sequence[str]]) -> float | None:
    """Return Fleiss' kappa of cases judged by as many reviewers each, two or more."""
    named = sorted({name for row in ratings for name in row})
    return fleiss_kappa(count_ratings(ratings, named)).kappa
