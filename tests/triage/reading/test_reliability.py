"""How counts of judged readings move what a phrase is worth.

The mean of a Beta distribution is a/(a+b); SciPy's is the outside judge. The prior weight of ten
readings, the bounds and the sparing of dangers are the desk's own choices.
"""

import importlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.errors import InputError
from triage.evidence import Observation
from triage.knowledge import Phrases
from triage.reading import Judgement, PhraseKey, Reader, Reading, Reliability, Tally, Vocabulary
from triage.reading.likelihood import PLAIN_PAIR
from triage.reading.reliability import LEAST_SHARE, MOST_SHARE, PRIOR_WEIGHT

stats = importlib.import_module("scipy.stats")
VOCABULARY = Vocabulary(
    phrases={
        "finding": {
            "corners-lifted": Phrases(present=("corner* .. curl*", "edges up"), absent=()),
            "scorched-plug": Phrases(present=("plug .. brown",), absent=()),
        },
        "risk": {"new-nozzle": Phrases(present=("new nozzle",), absent=())},
        "tried": {"level-plate": Phrases(present=("levelled .. bed",), absent=())},
        "guess": {"damp": Phrases(present=("damp filament",), absent=())},
    },
    finding_danger={"scorched-plug": "fire"},
)
CURLED = PhraseKey("finding", "corners-lifted", "present", "corner curl")
COUNTS = st.floats(0.0, 50.0).map(lambda count: round(count, 3))


@pytest.fixture(scope="module")
def reader() -> Reader:
    return Reader(VOCABULARY)


def judged(key: PhraseKey, *, right: int = 0, wrong: int = 0, weight: float = 1.0) -> Reliability:
    """Return what so many judgements of one phrase teach."""
    rights = [Judgement(key, True, weight)] * right
    return Reliability.learn([*rights, *[Judgement(key, False, weight)] * wrong])


def corners(reading: Reading) -> Observation:
    """Return what was read of the corners."""
    return next(seen for seen in reading.observations if seen.finding == "corners-lifted")


def odds(seen: Observation) -> float:
    """Return the likelihood ratio of a pair."""
    return seen.if_present / seen.if_absent


@pytest.mark.parametrize(
    "text", ["The corners are curling.", "corner curled", "CORNERS of the box curl"]
)
def test_phrase_is_the_stems_of_the_words_that_fill_the_pattern(reader: Reader, text: str) -> None:
    assert reader.read(text).phrases["finding", "corners-lifted"] == CURLED


def test_hedged_and_plain_words_are_counted_apart(reader: Reader) -> None:
    phrases = reader.read("Maybe the corners curl?").phrases

    assert phrases["finding", "corners-lifted"] == replace_manner("present, unsure")


def replace_manner(manner: str) -> PhraseKey:
    """Return the phrase of the corners said in another manner."""
    return CURLED._replace(manner=manner)


def test_phrase_denied_five_times_weighs_less(reader: Reader) -> None:
    """(10 x 18/19 + 0) / (10 + 5) of the pair's share is 63 %, so 18 to 1 becomes 12 to 7."""
    before = corners(reader.read("The corners curl."))

    after = corners(reader.relying_on(judged(CURLED, wrong=5)).read("The corners curl."))

    assert odds(before) == pytest.approx(18.0)
    assert odds(after) == pytest.approx((180 / 19 / 15) / (1 - 180 / 19 / 15))
    assert odds(after) == pytest.approx(12 / 7, rel=1e-2)
    assert after.if_present + after.if_absent == pytest.approx(sum(PLAIN_PAIR))


def test_other_phrases_of_the_finding_keep_their_weight(reader: Reader) -> None:
    wiser = reader.relying_on(judged(CURLED, wrong=5))

    assert odds(corners(wiser.read("edges up"))) == pytest.approx(18.0)


def test_denials_turn_no_reading_into_its_contrary(reader: Reader) -> None:
    wiser = reader.relying_on(judged(CURLED, wrong=1000))

    assert odds(corners(wiser.read("The corners curl."))) == pytest.approx(1.0)


def test_confirmations_lift_a_phrase_to_a_bound(reader: Reader) -> None:
    once = corners(reader.relying_on(judged(CURLED, right=5)).read("The corners curl."))
    often = corners(reader.relying_on(judged(CURLED, right=1000)).read("The corners curl."))

    assert 18.0 < odds(once) < odds(often)
    assert odds(often) == pytest.approx(MOST_SHARE / (1 - MOST_SHARE))


def test_weak_judgements_count_for_their_part() -> None:
    assert judged(CURLED, right=10, weight=0.2).tallies[CURLED].right == pytest.approx(2.0)


def test_phrase_of_a_danger_is_never_counted_as_wrong(reader: Reader) -> None:
    key = reader.read("The plug went brown.").phrases["finding", "scorched-plug"]

    learnt = Reliability.learn(
        [Judgement(key, False), Judgement(CURLED, False)], spared={"scorched-plug"}
    )

    assert set(learnt.tallies) == {CURLED}


@pytest.mark.parametrize(
    ("kind", "name", "text"),
    [
        ("risk", "new-nozzle", "It has a new nozzle."),
        ("tried", "level-plate", "I levelled the bed."),
        ("guess", "damp", "I suspect damp filament."),
    ],
)
def test_what_has_no_pair_is_left_out_once_likelier_misread(
    reader: Reader, kind: str, name: str, text: str
) -> None:
    """(10 x 0.9) / (10 + n) is one half at n = 8."""
    key = reader.read(text).phrases[kind, name]

    seven = reader.relying_on(judged(key, wrong=7)).read(text)
    eight = reader.relying_on(judged(key, wrong=8)).read(text)

    assert names(seven) == {name}
    assert names(eight) == set()
    assert any("was not counted" in note for note in eight.notes)
    assert (kind, name) in eight.phrases


def names(reading: Reading) -> set[str]:
    """Return the ids of circumstances, remedies and guesses."""
    return (
        {risk.id for risk in reading.risks}
        | {done.action for done in reading.tried}
        | {own.fault for own in reading.guesses}
    )


@given(st.floats(0.5, 0.999), COUNTS, COUNTS)
def test_share_is_the_mean_of_a_beta_distribution(
    expected: float, right: float, wrong: float
) -> None:
    learnt = Reliability({CURLED: Tally(right, wrong)})
    first, second = expected * PRIOR_WEIGHT + right, (1 - expected) * PRIOR_WEIGHT + wrong
    mean = float(stats.beta.mean(first, second))

    assert learnt.share(CURLED, expected) == pytest.approx(
        min(max(mean, LEAST_SHARE), max(expected, MOST_SHARE)), abs=1e-12
    )


def test_counts_come_back_from_json() -> None:
    learnt = judged(CURLED, right=2, wrong=1)

    assert Reliability.from_json(learnt.to_json()) == learnt


@pytest.mark.parametrize(
    "data",
    [
        None,
        [],
        {"format": 2, "phrases": []},
        {"format": 1},
        {"format": 1, "phrases": [{"key": ["finding"], "right": 1, "wrong": 0}]},
        {"format": 1, "phrases": [{"key": list(CURLED), "right": "often", "wrong": 0}]},
        {"format": 1, "phrases": [{"key": list(CURLED), "right": -1, "wrong": 0}]},
        {"format": 1, "phrases": [{"key": list(CURLED), "right": float("nan"), "wrong": 0}]},
    ],
)
def test_data_of_another_shape_is_refused(data: object) -> None:
    with pytest.raises(InputError, match="counts"):
        Reliability.from_json(data)


def test_without_counts_nothing_changes(reader: Reader) -> None:
    text = "The corners curl, I levelled the bed and it has a new nozzle."

    assert reader.relying_on(Reliability()).read(text) == reader.read(text)
