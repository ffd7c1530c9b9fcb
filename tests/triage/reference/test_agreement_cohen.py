"""Cohen's kappa of published tables."""

from itertools import chain, repeat

import pytest

from triage.workings.agreement import Agreement, cohen_kappa


def kappa_of(table: list[list[int]]) -> Agreement:
    """Return the agreement of a table: rows the first rater's class, columns the second's."""
    pairs = list(
        chain.from_iterable(
            repeat((row, column), count)
            for row, counts in enumerate(table)
            for column, count in enumerate(counts)
        )
    )
    return cohen_kappa([first for first, _ in pairs], [second for _, second in pairs])


@pytest.mark.source("artstein2008")
def test_cohen_kappa_of_two_coders() -> None:
    """The table of statements and requests: 0.348."""
    assert kappa_of([[20, 20], [10, 50]]).kappa == pytest.approx(0.348, abs=5e-4)


@pytest.mark.source("cohen1960")
@pytest.mark.parametrize(
    ("table", "kappa"),
    [
        ([[20, 5], [10, 15]], 0.4),
        ([[45, 15], [25, 15]], 0.1304),
        ([[25, 35], [5, 35]], 0.2593),
    ],
)
def test_cohen_kappa_of_an_encyclopaedia(table: list[list[int]], kappa: float) -> None:
    """Well-known tables of two classes, recalled; the arithmetic is exact."""
    assert kappa_of(table).kappa == pytest.approx(kappa, abs=5e-5)


@pytest.mark.source("cohen1960")
def test_cohen_kappa_tells_its_two_shares() -> None:
    """Of 50 grants 35 were judged alike, 25 by chance."""
    found = kappa_of([[20, 5], [10, 15]])

    assert (found.count, found.observed, found.expected) == (50, 0.7, 0.5)


@pytest.mark.source("scikitlearn2025")
def test_cohen_kappa_of_three_classes() -> None:
    """The documentation's example: 0.6875."""
    first = ["negative", "positive", "negative", "neutral", "positive"]
    second = ["negative", "positive", "negative", "neutral", "negative"]

    assert cohen_kappa(first, second).kappa == pytest.approx(0.6875, abs=1e-12)
