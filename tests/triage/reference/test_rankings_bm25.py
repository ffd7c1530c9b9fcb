"""BM25 as two libraries and a textbook compute it."""

import math

import pytest

from triage.workings.rankings import WordRanking, word_weight

TEXTS = {
    "hello": "Hello there good man!",
    "windy": "It is quite windy in London",
    "today": "How is the weather today?",
}


@pytest.mark.source("rankbm25")
def test_scores_of_three_texts() -> None:
    """0, 0.93729472 and 0 with k1 = 1.5; both words stand in one of three texts."""
    weight = word_weight(3, 1, count=1, length_ratio=6 / 5, saturation=1.5)

    assert 2 * weight == pytest.approx(0.93729472, abs=5e-9)


@pytest.mark.source("sqlitefts5")
def test_ranking_of_three_texts() -> None:
    """0.944383506 with k1 = 1.2, where the database prints the negative."""
    scores = WordRanking(TEXTS).scores("windy London")

    assert scores["windy"] == pytest.approx(0.944383506, abs=5e-10)
    assert (scores["hello"], scores["today"]) == (0.0, 0.0)


@pytest.mark.source("croft2010")
@pytest.mark.parametrize(
    ("president", "lincoln", "printed", "unrounded"),
    [
        (15, 25, 20.66, 20.6252),
        (15, 1, 12.74, 12.74),
        (15, 0, 5.00, 5.0029),
        (1, 25, 18.2, 18.17),
        (0, 25, 15.66, 15.62),
    ],
)
def test_scores_of_president_lincoln(
    president: int, lincoln: int, printed: float, unrounded: float
) -> None:
    """Half a million texts, 40,000 with the one word and 300 with the other."""
    score = sum(
        word_weight(500_000, holding, count=count, length_ratio=0.9)
        for holding, count in ((40_000, president), (300, lincoln))
    )

    # The book rounds the length factor to 1.11 first, which moves the score by up to 0.04.
    assert score == pytest.approx(printed, abs=0.05)
    assert score == pytest.approx(unrounded, abs=5.1e-3)


@pytest.mark.source("robertson2009")
def test_word_in_half_of_the_texts_adds_nothing() -> None:
    """The weight of the word is 0 there, and never below."""
    assert word_weight(10, 5, count=3, length_ratio=1.0) == 0.0
    assert word_weight(10, 9, count=3, length_ratio=1.0) == 0.0
    rare = word_weight(10, 1, count=1, length_ratio=1.0)
    assert rare == pytest.approx(math.log(9.5 / 1.5))
