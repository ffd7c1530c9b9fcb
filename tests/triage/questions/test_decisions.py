"""Tables that are no decision are refused."""

import numpy as np
import pytest

from triage.errors import OutOfRangeError
from triage.questions import expected_value_of_information


@pytest.mark.parametrize(
    ("prior", "likelihood", "utilities", "message"),
    [
        ([0.5, 0.6], np.eye(2), np.eye(2), "sums to 1.1"),
        ([0.5, 0.5], [[1.0, 0.0]], np.eye(2), "a row for each of 2 states"),
        ([0.5, 0.5], np.eye(2), [[1.0], [np.inf]], "not a finite number"),
        ([1.5, -0.5], np.eye(2), np.eye(2), "outside 0 to 1"),
        ([0.5, 0.5], np.eye(2), np.eye(3), "at least one act"),
    ],
)
def test_tables_that_are_no_decision_are_refused(
    prior: list[float], likelihood: object, utilities: object, message: str
) -> None:
    """The message says which number is wrong."""
    with pytest.raises(OutOfRangeError, match=message):
        expected_value_of_information(prior, likelihood, utilities)  # type: ignore[arg-type]
