"""Two-layer network of 12 causes and 15 findings; four engines agree on these values."""

import math

import pytest

from tests.triage.networks import layers12x15_evidence, make_layers12x15
from triage.inference import compute_answer_effects, compute_joint, compute_posterior

pytestmark = pytest.mark.source("layers12x15")

POSTERIORS = [
    0.0109614603,
    0.0749164630,
    0.0517241379,
    0.0538038746,
    0.0535538829,
    0.3380283866,
    0.1766553854,
    0.1887090662,
    0.0057118680,
    0.4456399959,
    0.7011000693,
    0.0740021229,
]

# Ten digits are printed, so agreement ends at half of the tenth.
PRINTED = 5.1e-11


def test_posteriors_agree_with_the_printed_ones() -> None:
    """All twelve posteriors have the printed digits."""
    posterior = compute_posterior(make_layers12x15(), layers12x15_evidence())

    found = [posterior.chances[f"f{at}"] for at in range(12)]
    assert found == pytest.approx(POSTERIORS, abs=PRINTED)
    assert posterior.ranked[0].id == "f10"
    assert posterior.error_bound == 0.0


def test_probability_of_the_evidence_agrees_with_the_printed_one() -> None:
    """P(evidence) has the printed twelve digits."""
    posterior = compute_posterior(make_layers12x15(), layers12x15_evidence())

    assert math.exp(posterior.log_evidence) == pytest.approx(8.26043009049e-4, abs=5.1e-16)


def test_listed_joint_has_the_same_marginals() -> None:
    """Listing all sets of faults, a second route, gives the printed posteriors."""
    joint = compute_joint(make_layers12x15(), layers12x15_evidence())

    found = [joint.reshape(-1, 2, 1 << at)[:, 1].sum() for at in range(12)]
    assert found == pytest.approx(POSTERIORS, abs=PRINTED)


@pytest.mark.parametrize(
    ("finding", "present"),
    [
        ("e13", 0.43786215),
        ("e8", 0.39591529),
        ("e14", 0.36527540),
        ("e2", 0.24083374),
        ("e9", 0.16638381),
        ("e5", 0.60742890),
        ("e11", 0.09020524),
    ],
)
def test_probability_of_the_next_answer_agrees_with_the_printed_one(
    finding: str, present: float
) -> None:
    """P(present | evidence) of each open finding has the printed eight digits."""
    knowledge = make_layers12x15()
    posterior = compute_posterior(knowledge, layers12x15_evidence())

    effects = compute_answer_effects(knowledge, posterior, [finding])

    assert effects.present[0] == pytest.approx(present, abs=5.1e-9)
