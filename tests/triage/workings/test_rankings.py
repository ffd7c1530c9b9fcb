"""Measures of rankings and ranking by words: definitions and refusals."""

import pytest

from triage.errors import InputError, OutOfRangeError
from triage.workings.rankings import (
    WordRanking,
    hits_any,
    hits_main,
    normalized_gain,
    reciprocal_rank,
    split_words,
)


def test_hits_have_two_definitions() -> None:
    """Any of what was wanted, or the main thing."""
    ranking, wanted = ("wet", "belt", "fan"), ("fan", "belt")

    assert [hits_any(ranking, wanted, first) for first in (1, 2, 3)] == [False, True, True]
    assert [hits_main(ranking, wanted, first) for first in (1, 2, 3)] == [False, False, True]


def test_reciprocal_rank_of_what_is_not_there_is_0() -> None:
    """A ranking without any of what was wanted."""
    assert reciprocal_rank(("wet", "belt"), ("fan",)) == 0.0
    assert reciprocal_rank((), ("fan",)) == 0.0


def test_normalized_gain_is_1_for_the_best_order_only() -> None:
    """Both wanted first: 1; one of them third: less."""
    gains = {"a": 1.0, "b": 1.0}

    assert normalized_gain("bac", gains, 5) == 1.0
    assert 0.0 < normalized_gain("acb", gains, 5) < 1.0
    assert normalized_gain("xyz", gains, 5) == 0.0


def test_words_are_letters_folded_to_one_case() -> None:
    """Figures, marks and underscores part words; full-width letters are letters."""
    assert split_words("It JAMMED at 43 mm, really_bad: Düse \uff21\uff22") == [
        "it",
        "jammed",
        "at",
        "mm",
        "really",
        "bad",
        "düse",
        "ab",
    ]


def test_word_said_twice_counts_twice() -> None:
    """In the text that asks; in the text that is ranked a second one counts less."""
    ranking = WordRanking({"a": "belt", "b": "belt belt fan", "c": "wet", "d": "cold", "e": "dry"})

    once, twice = ranking.scores("belt"), ranking.scores("belt, Belt")

    assert twice["a"] == pytest.approx(2 * once["a"])
    assert once["a"] > 0.0
    assert once["b"] < 2 * once["a"]


def test_short_text_stands_before_a_long_one() -> None:
    """The same word weighs more where little else is said."""
    texts = {"long": "belt " + "other words again " * 9, "short": "belt", "x": "y", "z": "w"}

    scores = WordRanking(texts | {"u": "v", "s": "t"}).scores("belt")

    assert scores["short"] > scores["long"] > 0.0


@pytest.mark.parametrize(
    ("call", "error", "message"),
    [
        (lambda: hits_any("ab", "a", 0), OutOfRangeError, r"the first 0 of a ranking"),
        (lambda: hits_main("ab", "", 1), InputError, r"nothing was wanted"),
        (lambda: normalized_gain("ab", {}, 1), OutOfRangeError, r"one above 0"),
        (lambda: normalized_gain("ab", {"a": -1.0, "b": 1.0}, 1), OutOfRangeError, r"0 or more"),
        (lambda: WordRanking({"a": "1 2 3"}), InputError, r"none of the texts to rank"),
    ],
)
def test_rankings_refuse_what_means_nothing(
    call: object, error: type[Exception], message: str
) -> None:
    """The message names the value and the limit."""
    with pytest.raises(error, match=message):
        call()  # type: ignore[operator]
