"""Updating a posterior: what is used again, and that nothing else is."""

import pytest

from tests.triage.networks import make_evidence, make_network
from triage.evidence import Evidence
from triage.inference import compute_posterior, update_posterior
from triage.knowledge import Knowledge, Risk


@pytest.fixture
def knowledge() -> Knowledge:
    """Return three faults behind three findings, and a risk of the first."""
    risk = Risk("damp", "Damp", "Is it damp?", "MEX", {"f0": 3.0}, "memory")
    links = {(0, 0): 0.8, (1, 0): 0.3, (1, 1): 0.7, (2, 2): 0.6, (0, 2): 0.2}
    return make_network([0.2, 0.1, 0.05], [0.05, 0.02, 0.1], links, risks=[risk])


@pytest.mark.parametrize(
    "after",
    [
        make_evidence(present=[0, 2], absent=[1]),
        make_evidence(present=[0, 2], risks=("damp",)),
        make_evidence(present=[0], soft={2: (0.7, 0.4)}),
    ],
)
def test_the_order_of_the_sum_is_used_again(knowledge: Knowledge, after: Evidence) -> None:
    """An absent finding, a risk or another doubt leave faults and bits the same."""
    before = compute_posterior(knowledge, make_evidence(present=[0, 2]))

    updated = update_posterior(knowledge, before, after)

    assert updated.hypotheses[0].plan is before.hypotheses[0].plan
    assert updated == compute_posterior(knowledge, after)


@pytest.mark.parametrize(
    "after",
    [
        make_evidence(present=[0, 1, 2]),
        make_evidence(present=[0]),
        make_evidence(present=[2, 0]),
        make_evidence(),
    ],
)
def test_other_bits_are_planned_anew(knowledge: Knowledge, after: Evidence) -> None:
    """A plan fits its bits only, in their order."""
    before = compute_posterior(knowledge, make_evidence(present=[0, 2]))

    updated = update_posterior(knowledge, before, after)

    assert updated.hypotheses[0].plan is not before.hypotheses[0].plan
    assert updated == compute_posterior(knowledge, after)
