"""Neutral wording: what the desk's lists mark, and what they leave alone."""

import pytest

from helpdesk.supply.loaded_words import RULES
from helpdesk.supply.wording import check_wording, sentence_at

NEUTRAL = [
    "On this spool, printed at 210 °C, the strand measured 1.61 to 1.89 mm.",
    "Three of eleven prints with this batch had blobs of foreign matter, dried at 50 °C for 6 h.",
    "The nozzle of one case had a burr in its bore when it came out of the box.",
]


@pytest.mark.parametrize("text", NEUTRAL)
def test_neutral_sentences_pass(text: str) -> None:
    assert check_wording(text) == []


@pytest.mark.parametrize(
    ("words", "rule"),
    [
        ("is always too thick", "absolute"),
        ("is garbage", "insult"),
        ("is a scam", "insult"),
        ("fails and they knew", "motive"),
        ("is extremely thick", "intensifier"),
        ("is typical of them", "generalisation"),
        ("is thick, so don’t buy it", "advice-against"),
        ("is thick!", "exclamation"),
        ("is GARBAGE", "insult"),
        ("is a rip-off", "insult"),
        ("is thick because they don't care", "motive"),
    ],
)
def test_loaded_words_are_marked_with_what_to_say_instead(words: str, rule: str) -> None:
    """The span is the very words, and every hit carries its rewording."""
    text = f"This spool, printed at 210 °C, {words}."

    (hit,) = check_wording(text)

    assert hit.rule == rule
    assert hit.start is not None
    assert text[hit.start : hit.end] == hit.phrase
    assert hit.instead.endswith((".", "”."))


@pytest.mark.parametrize(
    "text",
    [
        "This spool, at 210 °C, was on a carton from the Garbagetown fair.",
        "This spool, at 210 °C, was sold for everyday use.",
        "This spool, at 210 °C, lay in a liar's-dice box’s lid.".replace("liar's", "liarsdale"),
    ],
)
def test_a_word_inside_another_is_not_marked(text: str) -> None:
    assert check_wording(text) == []


def test_a_text_says_on_how_many_and_under_which_conditions() -> None:
    """What is left out is said, without a span."""
    hits = check_wording("The strand is too thick.")

    assert [(hit.rule, hit.start) for hit in hits] == [("count", None), ("conditions", None)]


def test_every_rule_marks_something_and_says_what_to_write() -> None:
    assert len({rule.id for rule in RULES}) == len(RULES)
    assert all(rule.instead and rule.name for rule in RULES)


def test_the_sentence_of_a_place() -> None:
    text = "One. Two is here! Three"

    assert [sentence_at(text, n) for n in (0, 6, 20)] == ["One.", "Two is here!", "Three"]
