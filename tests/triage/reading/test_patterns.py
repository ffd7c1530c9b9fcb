"""The pattern language: what it accepts, finds and refuses."""

import pytest

from triage.errors import KnowledgeError
from triage.reading.patterns import PhraseIndex, Target, parse_pattern
from triage.reading.tokens import tokenise

TARGET = Target("finding", "it", "present")


def found(pattern: str, text: str) -> list[str]:
    """Return the stretches of text a pattern is found in."""
    document = tokenise(text)
    matches = PhraseIndex([(TARGET, pattern)]).search(document).matches
    return [document.quote(document.span(match.first, match.last)) for match in matches]


@pytest.mark.parametrize(
    ("pattern", "text", "expected"),
    [
        ("first layer", "The first layer failed", ["first layer"]),
        ("first layer", "The first, layer failed", []),
        ("first layer", "first. layer", []),
        ("lift*", "It LIFTED and lifts", ["LIFTED", "lifts"]),
        ("lift*/curl*", "curling", ["curling"]),
        ("burnt/black spots", "black spots", ["black spots"]),
        ("a? grinding noise", "grinding noise", ["grinding noise"]),
        (
            "corner* .. lift*",
            "corners at the back always lift",
            ["corners at the back always lift"],
        ),
        ("corner* .. lift*", "corners at the very far back lift", []),
        ("corner* .. lift*", "corners are flat but lift", []),
        ("corner* lift*", "corners are really lifting", ["corners are really lifting"]),
        ("corner* lift*", "corners do not lift", []),
        ("under-extru*", "under extruded", ["under extruded"]),
        ("under-extru*", "Underextrusion", ["Underextrusion"]),
        ("under-extru*", "under-extruding", ["under-extruding"]),
        ("x-axis/y-axis", "the Y axis", ["Y axis"]),
        ("won't stick", "It won\u2019t stick", ["won\u2019t stick"]),
        ("0.4 mm", ".4mm", [".4mm"]),
        ("eye* & resin", "Resin, quite a lot of it, went right up into my eye", None),
        ("eye* & resin", "my eyes sting from that resin", ["eyes sting from that resin"]),
        ("eye* & resin", "eyes sting. Resin is cheap", []),
        ("eye* & resin", "eyes " + "very " * 13 + "resin", []),
        ("hot plug & board & smell", "smell of a hot plug at the board", None),
        ("hot plug & board & smell", "smell of a hot, plug at the board", []),
        ("nozzle .. block .. leak*", "nozzle and block leak", ["nozzle and block leak"]),
    ],
)
def test_pattern_is_found_where_it_is_said(
    pattern: str, text: str, expected: list[str] | None
) -> None:
    """Each construct of the language finds what it describes and nothing else."""
    assert found(pattern, text) == ([text] if expected is None else expected)


@pytest.mark.parametrize(
    "pattern", ["", "   ", "..", ".. lift*", "lift* ..", "*", "li*ft", "a//b", "a/ b", "?", "a? b?"]
)
def test_pattern_that_means_nothing_is_refused(pattern: str) -> None:
    """A pattern outside the language is refused with its text."""
    with pytest.raises(KnowledgeError, match="pattern '"):
        parse_pattern(pattern)


def test_pattern_with_too_many_optional_words_is_refused() -> None:
    """Optional words multiply the readings, so their number is limited."""
    with pytest.raises(KnowledgeError, match="more than 4 optional"):
        parse_pattern("a? b? c? d? e? f")


def test_index_names_every_refused_pattern() -> None:
    """All broken patterns are told at once, with what they belong to."""
    with pytest.raises(KnowledgeError) as caught:
        PhraseIndex([(TARGET, ".."), (Target("risk", "that", "present"), "*")])

    assert [problem.key for problem in caught.value.problems] == [
        "phrases finding.it",
        "phrases risk.that",
    ]


def test_search_work_grows_with_the_text_and_no_faster() -> None:
    """Twice the text takes twice the attempts, also in one endless sentence."""
    patterns = [(TARGET, "a .. a .. a .. a .. b"), (TARGET, "lift* .. corner*")]
    index = PhraseIndex(patterns)

    once = index.search(tokenise("a lift corner " * 1000))
    twice = index.search(tokenise("a lift corner " * 2000))

    assert once.attempts > 0
    assert twice.attempts == 2 * once.attempts
