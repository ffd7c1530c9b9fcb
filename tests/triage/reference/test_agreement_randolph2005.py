"""Fixed-marginal and free-marginal kappa as Randolph's calculator gives them."""

import pytest

from triage.workings.agreement import fleiss_kappa, free_marginal_kappa

pytestmark = pytest.mark.source("randolph2005")


@pytest.mark.parametrize(
    ("table", "fixed", "free"),
    [
        ([[7, 1], [3, 5]], 0.161905, 0.214286),
        ([[6, 1, 0], [0, 7, 0]], 0.708333, 0.785714),
        ([[7, 0], [0, 7]], 1.0, 1.0),
    ],
)
def test_both_kappas_are_the_printed_ones(
    table: list[list[int]], fixed: float, free: float
) -> None:
    """Printed with six decimals."""
    assert fleiss_kappa(table).kappa == pytest.approx(fixed, abs=5.1e-7)
    assert free_marginal_kappa(table).kappa == pytest.approx(free, abs=5.1e-7)
