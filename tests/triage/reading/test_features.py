"""A text as counted features."""

import pytest

from triage.reading.features import count_features, says_something
from triage.reading.tokens import READ_LIMIT


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("strings everywhere", "string everywhere"),
        ("It was stringing.", "string"),
        ("STRINGS!!", "strings"),
        ("205 °C", "210 °C"),
    ],
)
def test_features_of_forms_of_a_word_are_the_same(one: str, other: str) -> None:
    shared = set(count_features(one)) & set(count_features(other))

    assert any(" " not in feature for feature in shared)


def test_features_are_stems_pairs_and_pieces() -> None:
    found = count_features("layer shifted")

    assert found["layer"] == 1.0
    assert found["layer shift"] == 0.7
    assert found["…ayer"] == 0.25
    assert found["…<lay"] == 0.25


def test_features_of_a_repeated_word_are_counted() -> None:
    assert count_features("gap gap gap")["gap"] == 3.0


def test_features_tell_a_denied_word_from_a_stated_one() -> None:
    """Two words after the denial, no more."""
    found = count_features("no stringing there but warping")

    assert "!string" in found
    assert "string" not in found
    assert "warp" in found


@pytest.mark.parametrize(
    "text", ["", "   ", "help please, see photo", "Hi all! What is this? Thanks in advance :)"]
)
def test_text_of_courtesy_says_nothing(text: str) -> None:
    assert not says_something(text)


def test_text_with_one_telling_word_says_something() -> None:
    assert says_something("help please, it is stringy, see photo")


def test_features_end_where_reading_ends() -> None:
    assert "zebra" not in count_features(" " * READ_LIMIT + "zebra")
