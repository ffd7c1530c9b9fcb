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

CONTEXTS = [
    ("Tried: brim, drying, new nozzle.", {"brim", "dry", "swap"}),
    ("A wider brim made no difference.", {"brim"}),
    ("Brim. No change.", {"brim"}),
    ("What I did so far\n- brim\n- new nozzle", {"brim", "swap"}),
    ("The brim is 5 mm wide.", set()),
    ("Have you tried a brim?", set()),
    ("Tried nothing yet. The brim is 5 mm.", set()),
    ("I added glue, brim is 5 mm.", set()),
    ("New hotend fan, no change.", {"hotend-fan"}),
    ("New hotend and a fan, no change.", {"hotend"}),
    ("Bed temperature raised to 75, no change.", {"hotter-bed"}),
    ("Even if I slow it down it makes no difference.", {"slow"}),
    ("PLA: new film, no change.", set()),
    ("Standard resin: new film, no change.", {"film"}),
]

NOT_TRIED = [
    "What brim width do you use?",
    "I'd like to have the bed levelled and the filament dried.",
    "I'm planning a new nozzle.",
    "Next on my list: brim, new nozzle.",
    "Does drying help with that?",
    "The manual says to have the bed levelled.",
    "You lot always say levelling works.",
    "He wants me to have the nozzle swapped.",
    "Waiting for a new nozzle.",
    "New nozzle arrives tomorrow.",
    "A new nozzle is on order.",
    "If I slow it down, would it stop?",
    "Has anybody swapped the nozzle?",
    "Should one have the bed levelled, any ideas?",
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


@pytest.mark.parametrize(("text", "expected"), CONTEXTS)
def test_tried_takes_a_bare_name_only_beside_words_of_a_trial(
    text: str, expected: set[str]
) -> None:
    """Lists and outcomes make a name a trial, and the longest name is the one meant."""
    assert {entry.action for entry in READER.read(text).tried} == expected


@pytest.mark.parametrize("ending", ["Nothing helped.", "Still the same.", "None of it worked."])
def test_tried_takes_the_result_of_a_list_from_the_sentence_below(ending: str) -> None:
    """What is said below a list holds for every item without words of its own."""
    text = f"Tried so far:\n- brim, slightly better\n- levelled the bed\n- new nozzle\n{ending}"

    assert {entry.action: entry.result for entry in READER.read(text).tried} == {
        "brim": "helped",
        "level": "no-change",
        "swap": "no-change",
    }


def test_tried_reads_works_again_as_a_cure() -> None:
    """The word "again" alone is no sign of failure."""
    (entry,) = READER.read("I swapped the nozzle and it works again.").tried

    assert entry.result == "cured"


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
