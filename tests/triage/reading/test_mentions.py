"""Observations, guesses, advice, risks and dangers."""

import pytest

from tests.triage.reading.vocabulary import READER, stated
from triage.reading import Weight, likelihood_pair


def test_mentions_states_a_finding_once() -> None:
    """A finding spoken of twice gives one observation."""
    seen = READER.read("It warps. The corners lift badly.").observations

    assert [entry.finding for entry in seen] == ["warp"]
    assert seen[0].source == "text"


def test_mentions_prefers_the_plain_statement() -> None:
    """A plain statement outweighs a doubt, wherever it stands."""
    assert stated("The corners lift. Maybe it is not warping.") == {"warp": "present"}


def test_mentions_lets_the_later_of_two_contradictions_count() -> None:
    """Of two equally plain contradictions the later holds."""
    assert stated("There is no stringing. Now there is stringing.") == {"string": "present"}
    assert stated("There is stringing. There is no stringing.") == {"string": "absent"}


def test_mentions_reads_a_longer_phrase_before_the_shorter_in_it() -> None:
    """Part of a phrase for the opposite does not count on its own."""
    assert stated("The walls round the hole look perfect") == {"gaps": "absent"}
    assert stated("The wall has a hole") == {"gaps": "present"}


@pytest.mark.parametrize("weight", list(Weight))
def test_likelihoods_point_the_way_the_statement_does(weight: Weight) -> None:
    """A statement of presence speaks for presence, one of absence against it."""
    for_it, against = likelihood_pair(weight, present=True)
    against_absent, for_absent = likelihood_pair(weight, present=False)

    assert 0.0 < against < for_it < 1.0
    assert 0.0 < against_absent < for_absent < 1.0


def test_likelihoods_grow_with_the_weight() -> None:
    """A stronger way of saying something counts for more."""
    pairs = [
        likelihood_pair(weight, present=True)
        for weight in (Weight.HEARSAY, Weight.HEDGED, Weight.PLAIN)
    ]
    ratios = [for_it / against for for_it, against in pairs]

    assert ratios == sorted(set(ratios))


def test_likelihoods_believe_a_danger_told_plainly_more_than_other_findings() -> None:
    """A brown plug is worth more than a loose word about a surface, a doubted one is not."""
    firm, plain = (
        likelihood_pair(Weight.PLAIN, present=True, is_danger=danger) for danger in (True, False)
    )
    doubted = likelihood_pair(Weight.HEDGED, present=True, is_danger=True)

    assert firm[0] / firm[1] > 5 * plain[0] / plain[1]
    assert doubted == likelihood_pair(Weight.HEDGED, present=True)


def test_guesses_are_no_findings() -> None:
    """A supposed cause is kept as a guess."""
    reading = READER.read("I think the filament is wet.")

    assert [guess.fault for guess in reading.guesses] == ["wet"]
    assert reading.guesses[0].quote == "filament is wet"
    assert reading.observations == ()


@pytest.mark.parametrize(
    "text",
    [
        "Someone told me it is moisture.",
        "People say it's wet filament.",
        "A friend thinks it is a clog.",
        "The forum suggests wet filament.",
        "I read that it could be moisture.",
        "Apparently it is clogged.",
        "My brother reckons the filament is damp.",
        "I was told it is moisture.",
    ],
)
def test_guesses_of_others_are_kept_apart(text: str) -> None:
    """What somebody else supposes is advice, not the person's own guess."""
    reading = READER.read(text)

    assert reading.guesses == ()
    assert len(reading.advice) == 1


@pytest.mark.parametrize(
    "text", ["It is not clogged.", "The filament isn't wet.", "No moisture in it."]
)
def test_guesses_denied_are_left_out(text: str) -> None:
    """A cause that is ruled out is not supposed."""
    reading = READER.read(text)

    assert reading.guesses == reading.advice == ()


def test_risks_are_quoted() -> None:
    """A circumstance is read with its words."""
    text = "It began after I changed the nozzle and put on a new spool."

    risks = READER.read(text).risks

    assert {risk.id for risk in risks} == {"new-nozzle", "new-spool"}
    assert all(text[slice(*risk.span)] == risk.quote for risk in risks)


@pytest.mark.parametrize(
    "text",
    ["I did not change the nozzle.", "Should I try a new nozzle?", "They say try a new nozzle."],
)
def test_risks_denied_or_planned_are_left_out(text: str) -> None:
    """A circumstance that does not hold is not read."""
    assert READER.read(text).risks == ()


@pytest.mark.parametrize(
    "text",
    [
        "There is a burning smell.",
        "It smells like something is burning, I think?",
        "My wife says there is smoke.",
        "Last week there was smoke.",
        "The plug has turned brown.",
        "Could the plug be melted?",
        "I am worried about the burning smell.",
        "There is no heat and smoke.",
        "It doesn't heat and smells of burning.",
        "There is hardly any smoke.",
        "I can't use it without smoke.",
        "Not sure if that is smoke.",
        "No smoke at first. Then smoke came out.",
    ],
)
def test_dangers_are_raised_even_in_doubt(text: str) -> None:
    """Doubt, hearsay and time do not lower a danger."""
    (danger,) = READER.read(text).dangers

    assert danger.id == "burning"
    assert text[slice(*danger.span)] == danger.quote


@pytest.mark.parametrize(
    "text",
    ["There is no burning smell.", "It doesn't smell of burning.", "The plug is not brown."],
)
def test_dangers_denied_are_not_raised(text: str) -> None:
    """A denied danger is not raised."""
    assert READER.read(text).dangers == ()


def test_findings_of_the_other_process_are_not_read() -> None:
    """A finding of a process the print was not made with is left out."""
    text = "stringing and the supports tear"

    assert {seen.finding for seen in READER.read(text, process="VPP").observations} == {"tear"}
    assert {seen.finding for seen in READER.read(text, process="MEX").observations} == {"string"}
