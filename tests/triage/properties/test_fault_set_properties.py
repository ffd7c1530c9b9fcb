"""The most probable sets of faults are those of a full list, on any small network."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.triage.strategies import PATIENT, Drawn, networks
from triage.inference import compute_joint, compute_posterior, list_explanations


@given(networks(), st.integers(1, 40))
@PATIENT
def test_best_sets_are_those_of_the_full_list(drawn: Drawn, limit: int) -> None:
    """Probabilities, sets, mass covered and P(no fault) agree with listing every set."""
    joint = compute_joint(drawn.knowledge, drawn.evidence)
    posterior = compute_posterior(drawn.knowledge, drawn.evidence)

    found = list_explanations(drawn.knowledge, posterior, limit=limit)

    chances = [entry.probability for entry in found.sets]
    possible = sorted(joint[joint > 0.0].tolist(), reverse=True)
    assert chances == pytest.approx(possible[:limit], rel=1e-11, abs=1e-300)
    for entry in found.sets:
        place = sum(1 << int(fault[1:]) for fault in entry.faults)
        assert entry.probability == pytest.approx(joint[place], rel=1e-11, abs=1e-300)
    assert len({entry.faults for entry in found.sets}) == len(found.sets)
    assert found.covered == pytest.approx(sum(possible[:limit]), rel=1e-11)
    assert found.no_fault == pytest.approx(joint[0], rel=1e-11, abs=1e-300)
    best_left = max(possible[limit : limit + 1], default=0.0)
    assert found.is_proven
    assert best_left * (1.0 - 1e-11) <= found.missed or math.isclose(
        best_left, found.missed, abs_tol=1e-15
    )
