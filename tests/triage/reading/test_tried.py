"""Remedies already tried, and what came of them."""

import pytest

from tests.triage.reading.vocabulary import READER

RESULTS = [
    (
        "Tried everything: dried the filament, levelled the bed, swapped the nozzle. Same result.",
        {"dry": "no-change", "level": "no-change", "swap": "no-change"},
    ),
    (
        "I levelled the bed, then it printed ok for two days, then warped again.",
        {"level": "helped"},
    ),
    (
        "I levelled the bed. I dried the filament, no change.",
        {"level": "unknown", "dry": "no-change"},
    ),
    ("I levelled the bed three times, no change. It warps.", {"level": "no-change"}),
    ("I levelled the bed but it didn't help.", {"level": "no-change"}),
    ("Levelled the bed, still stringing.", {"level": "no-change"}),
    ("I dried the filament. No difference.", {"dry": "no-change"}),
    ("I dried the filament to no avail.", {"dry": "no-change"}),
    ("I dried the filament and it got worse.", {"dry": "no-change"}),
    ("Drying did nothing, nothing works.", {"dry": "no-change"}),
    ("I dried the filament, which fixed it for a day.", {"dry": "helped"}),
    ("I dried the filament and it helped a bit.", {"dry": "helped"}),
    ("Drying made it slightly better.", {"dry": "helped"}),
    ("Levelled the bed and that fixed it.", {"level": "cured"}),
    ("I levelled the bed. Problem solved.", {"level": "cured"}),
    (
        "I levelled the bed, dried the filament and added a brim, nothing helped.",
        {"level": "no-change", "dry": "no-change", "brim": "no-change"},
    ),
    (
        "I levelled the bed which helped a bit. I dried the filament with no change.",
        {"level": "helped", "dry": "no-change"},
    ),
    ("No luck with levelling or drying.", {"level": "no-change", "dry": "no-change"}),
]

NOT_TRIED = [
    "Should I have it levelled? The bed is new.",
    "I will try drying the filament.",
    "I haven't tried drying yet.",
    "Someone told me drying would help.",
    "I am thinking about drying it.",
    "Is drying worth it?",
    "People recommend levelling.",
]


@pytest.mark.parametrize(("text", "expected"), RESULTS)
def test_tried_takes_the_result_from_the_words_around(text: str, expected: dict[str, str]) -> None:
    """The outcome is read behind the remedy, before it, or in the next sentence."""
    assert {entry.action: entry.result for entry in READER.read(text).tried} == expected


@pytest.mark.parametrize("text", NOT_TRIED)
def test_tried_leaves_out_plans_and_advice(text: str) -> None:
    """A remedy that is planned, asked about or recommended was not tried."""
    assert READER.read(text).tried == ()


def test_tried_without_a_result_counts_as_failed_while_complaining() -> None:
    """A report that still complains tells that the remedy did not cure it."""
    (entry,) = READER.read("I levelled the bed. The corners lift.").tried

    assert entry.result == "no-change"


def test_tried_without_a_result_is_unknown_when_nothing_is_complained_of() -> None:
    """Without any complaint there is nothing to conclude from."""
    (entry,) = READER.read("I levelled the bed.").tried

    assert entry.result == "unknown"


def test_tried_names_each_remedy_once_with_its_words() -> None:
    """A remedy told twice is kept once, with the first words."""
    text = "I levelled the bed. Later I levelled the plate."

    (entry,) = READER.read(text).tried

    assert entry.quote == "levelled the bed"
    assert entry.span is not None
    assert text[slice(*entry.span)] == entry.quote
