"""Two parents with links 0.6 and 0.8 and a leak of 0.1, in the net convention."""

import math
from itertools import product

import pytest

from tests.triage.networks import make_evidence, make_network
from triage.inference import compute_posterior

pytestmark = pytest.mark.source("diez1993")

# The compound convention, in which links hold the leak already, has 0.6, 0.8 and 0.911111.
NET = [0.1, 0.82, 0.64, 0.928]


@pytest.mark.parametrize(
    ("there", "present"), list(zip(product((0, 1), repeat=2), NET, strict=True))
)
def test_links_act_beside_the_leak(there: tuple[int, int], present: float) -> None:
    """P(present) of each state is that of the net convention, not of the compound one."""
    # A prior of 1 or 0 stands for "known to be there" and "known not to be".
    knowledge = make_network([float(one) for one in there], [0.1], {(0, 0): 0.6, (1, 0): 0.8})

    found = compute_posterior(knowledge, make_evidence(present=[0])).log_evidence

    assert math.exp(found) == pytest.approx(present, abs=1e-12)
