"""Fleiss' kappa of the well-known table of fourteen raters."""

import pytest

from triage.workings.agreement import fleiss_kappa

pytestmark = pytest.mark.source("fleiss1971")

TABLE = [
    [0, 0, 0, 0, 14],
    [0, 2, 6, 4, 2],
    [0, 0, 3, 5, 6],
    [0, 3, 9, 2, 0],
    [2, 2, 8, 1, 1],
    [7, 7, 0, 0, 0],
    [3, 2, 6, 3, 0],
    [2, 5, 3, 2, 2],
    [6, 5, 2, 1, 0],
    [0, 2, 2, 3, 7],
]


def test_fleiss_kappa_of_fourteen_raters() -> None:
    """Ten subjects, five categories: 0.210, computed 0.2099307."""
    found = fleiss_kappa(TABLE)

    assert found.kappa == pytest.approx(0.210, abs=5e-4)
    assert found.kappa == pytest.approx(0.2099307, abs=5e-8)
    assert found.count == 10
