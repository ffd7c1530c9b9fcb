"""Posteriors of the whole network against sixty-digit arithmetic by another method."""

import math
from collections.abc import Sequence
from decimal import Decimal, localcontext
from itertools import combinations

import pytest

from triage.evidence import Evidence, Observation
from triage.inference import compute_posterior
from triage.knowledge import Knowledge, load_knowledge

DIGITS = 60  # inclusion-exclusion cancels some ten of them with ten findings present
ABSENT = 30


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    """Return the shipped knowledge."""
    return load_knowledge()


def quickscore(
    knowledge: Knowledge, present: Sequence[str], absent: Sequence[str]
) -> tuple[Decimal, dict[str, Decimal]]:
    """Return P(evidence) and the posteriors by inclusion-exclusion over the present findings.

    Written from the definition, in decimal digits: P(present and absent) is the alternating sum,
    over subsets of the present findings, of the probability that those are absent too.
    """
    faults = {
        fault.id: Decimal(fault.prior)
        for fault in knowledge.faults.values()
        if fault.process in ("MEX", "any")
    }
    unlinked = dict.fromkeys(knowledge.findings, Decimal(1))
    fails: dict[str, dict[str, Decimal]] = {name: dict(unlinked) for name in faults}
    for link in knowledge.links:
        if link.fault in fails:
            fails[link.fault][link.finding] = 1 - Decimal(link.p)
    total = Decimal(0)
    joint = dict.fromkeys(faults, Decimal(0))
    for size in range(len(present) + 1):
        for some in combinations(present, size):
            gone = (*absent, *some)
            term = Decimal(-1) ** size
            for finding in gone:
                term *= 1 - Decimal(knowledge.findings[finding].leak)
            shares = {}
            for name, prior in faults.items():
                there = prior * math.prod(
                    (fails[name][finding] for finding in gone), start=Decimal(1)
                )
                term *= 1 - prior + there
                shares[name] = there / (1 - prior + there)
            total += term
            for name, share in shares.items():
                joint[name] += term * share
    return total, {name: value / total for name, value in joint.items()}


@pytest.mark.parametrize(("positives", "start"), [(5, 0), (5, 40), (8, 17), (10, 3)])
def test_posteriors_agree_with_sixty_digits(
    knowledge: Knowledge, positives: int, start: int
) -> None:
    """P(evidence) and all posteriors agree to far more than nine digits."""
    names = [name for name, finding in knowledge.findings.items() if finding.process == "MEX"]
    picked = [names[(start + step * 53) % len(names)] for step in range(positives + ABSENT)]
    present, absent = picked[:positives], picked[positives:]
    with localcontext() as context:
        context.prec = DIGITS
        evidence, expected = quickscore(knowledge, present, absent)
        log_evidence = float(evidence.ln())
    observations = [Observation(name, "present") for name in present]
    observations += [Observation(name, "absent") for name in absent]

    posterior = compute_posterior(
        knowledge, Evidence(process="MEX", observations=tuple(observations))
    )

    assert len(set(picked)) == len(picked)
    assert posterior.error_bound == 0.0
    assert posterior.log_evidence == pytest.approx(log_evidence, abs=1e-11)
    for name, chance in expected.items():
        assert posterior.chances[name] == pytest.approx(float(chance), rel=1e-11)
