"""Brute force: every set of faults listed, in plain Python and exact fractions.

Written without the engine's inference, straight from the definition of the noisy-OR, so that
it can judge it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import product


@dataclass(frozen=True)
class Judged:
    """P(evidence) and the posterior of each fault, exactly."""

    evidence: Fraction
    posterior: tuple[Fraction, ...]


def judge(
    priors: list[float],
    leaks: list[float],
    links: Mapping[tuple[int, int], float],
    pairs: Mapping[int, tuple[float, float]],
) -> Judged:
    """Return the exact answer for a network and the likelihood pairs of some findings."""
    total = Fraction(0)
    with_fault = [Fraction(0)] * len(priors)
    for faults, chance in _fault_sets(priors):
        for finding, (if_present, if_absent) in pairs.items():
            absent = 1 - Fraction(leaks[finding])
            for (fault, linked), link in links.items():
                if linked == finding and faults[fault]:
                    absent *= 1 - Fraction(link)
            chance *= Fraction(if_present) * (1 - absent) + Fraction(if_absent) * absent
        total += chance
        for fault, there in enumerate(faults):
            if there:
                with_fault[fault] += chance
    return Judged(total, tuple(part / total for part in with_fault) if total else ())


def _fault_sets(priors: list[float]) -> Iterator[tuple[tuple[bool, ...], Fraction]]:
    for faults in product((False, True), repeat=len(priors)):
        chance = Fraction(1)
        for there, prior in zip(faults, priors, strict=True):
            chance *= Fraction(prior) if there else 1 - Fraction(prior)
        yield faults, chance
