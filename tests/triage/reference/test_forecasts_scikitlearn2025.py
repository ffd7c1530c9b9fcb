"""Scores of forecasts as the examples of scikit-learn's documentation print them."""

import pytest

from triage.workings.forecasts import (
    brier_score,
    brier_score_classes,
    log_loss,
    reliability_table,
)

pytestmark = pytest.mark.source("scikitlearn2025")


def test_brier_score_of_four_forecasts() -> None:
    """0.0375; summed over both classes it is 0.075."""
    outcomes, chances = [0, 1, 1, 0], [0.1, 0.9, 0.8, 0.3]

    assert brier_score(outcomes, chances) == pytest.approx(0.0375, abs=1e-15)
    both = [[1 - chance, chance] for chance in chances]
    assert brier_score_classes(outcomes, both) == pytest.approx(0.075, abs=1e-15)


def test_brier_score_of_three_classes() -> None:
    """Printed 0.146…, cut off: 0.44 / 3."""
    chances = [[0.8, 0.1, 0.1], [0.2, 0.7, 0.1], [0.2, 0.2, 0.6]]

    score = brier_score_classes([0, 1, 2], chances)

    assert int(score * 1000) == 146
    assert score == pytest.approx(0.44 / 3, abs=1e-15)


def test_log_loss_of_four_mails() -> None:
    """Printed 0.21616…, recalled."""
    outcomes, chances = [1, 0, 0, 1], [0.9, 0.1, 0.2, 0.65]

    assert log_loss(outcomes, chances) == pytest.approx(0.21616, abs=6e-6)


def test_reliability_table_of_nine_forecasts() -> None:
    """Three bins: 0, 0.5 and 1 came true of forecasts of 0.2, 0.525 and 0.85 on average."""
    outcomes = [0, 0, 0, 0, 1, 1, 1, 1, 1]
    chances = [0.1, 0.2, 0.3, 0.4, 0.65, 0.7, 0.8, 0.9, 1.0]

    rows = reliability_table(outcomes, chances, bins=3)

    assert [row.observed for row in rows] == pytest.approx([0.0, 0.5, 1.0])
    assert [row.forecast for row in rows] == pytest.approx([0.2, 0.525, 0.85])
    assert [row.count for row in rows] == [3, 2, 4]
