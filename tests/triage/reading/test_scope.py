"""What negation, doubt, time and hearsay make of a sentence."""

import pytest

from tests.triage.reading.vocabulary import stated

PRESENT, ABSENT, MAYBE, MAYBE_NOT = "present", "absent", "present?", "absent?"

DENIED = [
    ("There is no stringing at all.", {"string": ABSENT}),
    ("It's not warping.", {"warp": ABSENT}),
    ("It prints without any gaps.", {"gaps": ABSENT}),
    ("The layers never shifted.", {"shift": ABSENT}),
    ("It isn't warping.", {"warp": ABSENT}),
    ("It isn\u2019t warping", {"warp": ABSENT}),
    ("it isnt warping", {"warp": ABSENT}),
    ("The print didn't warp this time.", {"warp": ABSENT}),
    ("No sign of stringing.", {"string": ABSENT}),
    (
        "There were no signs of warping, gaps or stringing.",
        {"warp": ABSENT, "gaps": ABSENT, "string": ABSENT},
    ),
    ("The corners do not lift.", {"warp": ABSENT}),
    ("I never had warping with this spool.", {"warp": ABSENT}),
    ("I don't see any gaps.", {"gaps": ABSENT}),
    ("I did not notice any clicking or popping.", {"click": ABSENT, "pop": ABSENT}),
    ("There is neither stringing nor warping.", {"string": ABSENT, "warp": ABSENT}),
    ("Never any warping, never any gaps.", {"warp": ABSENT, "gaps": ABSENT}),
    ("Hardly any stringing.", {"string": ABSENT}),
    ("Free of gaps.", {"gaps": ABSENT}),
    (
        "Stringing, gaps, warping: I have none of these.",
        {"string": ABSENT, "gaps": ABSENT, "warp": ABSENT},
    ),
    ("Gaps or stringing I don't get.", {"gaps": ABSENT, "string": ABSENT}),
    ("Is there stringing? Not that I can see.", {"string": MAYBE_NOT}),
    ("Zero stringing.", {"string": ABSENT}),
    ("It doesn't click any more.", {"click": ABSENT}),
    ("It no longer strings.", {"string": ABSENT}),
    ("It has stopped stringing.", {"string": ABSENT}),
    ("No gaps and no stringing.", {"gaps": ABSENT, "string": ABSENT}),
    ("There aren't any gaps.", {"gaps": ABSENT}),
    ("The first layer isn't patchy.", {"first": ABSENT}),
    ("The print does not come off the bed.", {"loose": ABSENT}),
    ("Warping: none. Stringing: no.", {"warp": ABSENT, "string": ABSENT}),
    ("Warping? No.", {"warp": ABSENT}),
    ("Stringing is not a problem.", {"string": ABSENT}),
    ("Warping isn't an issue.", {"warp": ABSENT}),
]

AFFIRMED = [
    ("I can't print without stringing.", {"string": PRESENT}),
    ("Not sure why the corners are lifting.", {"warp": PRESENT}),
    ("I have no idea why it warps.", {"warp": PRESENT}),
    ("I cannot stop the stringing.", {"string": PRESENT}),
    ("I can't get rid of the stringing.", {"string": PRESENT}),
    ("Drying didn't fix the stringing.", {"string": PRESENT}),
    ("Nothing helps with the warping.", {"warp": PRESENT}),
    ("It did not stop warping.", {"warp": PRESENT}),
    ("Not only stringing but gaps as well.", {"string": PRESENT, "gaps": PRESENT}),
    ("It's not just warping, it also strings.", {"warp": PRESENT, "string": PRESENT}),
    ("No doubt it is warping.", {"warp": PRESENT}),
    ("Not until 40 mm does the layer shift.", {"shift": PRESENT}),
    ("Nothing but stringing.", {"string": PRESENT}),
    ("No, the corners lift.", {"warp": PRESENT}),
    ("It won't stick to the plate.", {"loose": PRESENT}),
    ("It does not stick.", {"loose": PRESENT}),
    ("Why is it stringing?", {"string": PRESENT}),
]

SPLIT = [
    ("There are no gaps and stringing.", {"gaps": ABSENT, "string": ABSENT}),
    ("It doesn't click and strings.", {"click": ABSENT, "string": PRESENT}),
    ("It is not because it warps.", {"warp": PRESENT}),
    ("No clicking, the whole print keeps warping or so.", {"click": ABSENT, "warp": PRESENT}),
    ("No clicking, it warps or strings.", {"click": ABSENT, "warp": PRESENT, "string": PRESENT}),
    ("No clicking, gaps; warping or so.", {"click": ABSENT, "gaps": PRESENT, "warp": PRESENT}),
    ("Not even any stringing, just gaps.", {"string": ABSENT, "gaps": PRESENT}),
    ("No warping, stringing everywhere.", {"warp": ABSENT, "string": PRESENT}),
    ("No warping but stringing everywhere.", {"warp": ABSENT, "string": PRESENT}),
    ("It's stringing, not warping.", {"string": PRESENT, "warp": ABSENT}),
    ("Walls fine but top is holey.", {"gaps": PRESENT}),
    ("The corners don't lift, the layers shift.", {"warp": ABSENT, "shift": PRESENT}),
    ("It does not click because the layers shifted.", {"click": ABSENT, "shift": PRESENT}),
    ("It is not clicking so the corners lift.", {"click": ABSENT, "warp": PRESENT}),
    ("No clicking when the layers shift.", {"click": ABSENT, "shift": PRESENT}),
    ("Everything is fine except the corners lift.", {"warp": PRESENT}),
    ("It has no gaps or holes, and the corners lift.", {"gaps": ABSENT, "warp": PRESENT}),
    ("No stringing; corners lift.", {"string": ABSENT, "warp": PRESENT}),
    ("No stringing - corners lift.", {"string": ABSENT, "warp": PRESENT}),
    ("No stringing\nCorners lift", {"string": ABSENT, "warp": PRESENT}),
]

PRAISED = [
    ("The first layer is perfect.", {"first": ABSENT}),
    ("There is nothing wrong with the first layer.", {"first": ABSENT}),
    ("No problems with the first layer.", {"first": ABSENT}),
    ("I am happy with the walls.", {"gaps": ABSENT}),
    ("It sticks perfectly.", {"loose": ABSENT}),
    ("The first layer is not great.", {"first": MAYBE}),
]

OVER = [
    ("The stringing has gone.", {"string": MAYBE_NOT}),
    ("The stringing went away after drying.", {"string": MAYBE_NOT}),
    ("It used to string.", {"string": MAYBE_NOT}),
    ("It used to warp but now it is fine.", {"warp": MAYBE_NOT}),
    ("I had warping last month but it is fine now.", {"warp": MAYBE_NOT}),
    ("The warping is solved.", {"warp": MAYBE_NOT}),
    ("The brim cured the warping for a day and it warps again.", {"warp": PRESENT}),
    ("It used to stick well.", {}),
    ("The clicking has stopped.", {"click": MAYBE_NOT}),
    ("Clicking: ok.", {"click": MAYBE_NOT}),
    ("Less heat cured the stringing and gave me gaps.", {"string": MAYBE_NOT, "gaps": PRESENT}),
    ("Last week it was warping, today it doesn't.", {"warp": MAYBE_NOT}),
    ("With my old printer I had stringing, with this one I don't.", {"string": MAYBE_NOT}),
    ("I thought the stringing was gone, but it is back.", {"string": MAYBE}),
    ("The corners lift and there are fine lines.", {"warp": PRESENT}),
]

DOUBTED = [
    ("Could it be stringing?", {"string": MAYBE}),
    ("Maybe the corners lift", {"warp": MAYBE}),
    ("The corners lift, I think", {"warp": MAYBE}),
    ("I think the layers shifted.", {"shift": MAYBE}),
    ("Possibly some gaps.", {"gaps": MAYBE}),
    ("It might be clicking.", {"click": MAYBE}),
    ("Is that a gap?", {"gaps": MAYBE}),
    ("Not sure if the layers shifted.", {"shift": MAYBE}),
    ("If it warps I will say so.", {"warp": MAYBE}),
    ("I don't think it is warping.", {"warp": MAYBE_NOT}),
    ("My friend says the corners lift.", {"warp": MAYBE}),
    ("I could hear it clicking.", {"click": PRESENT}),
    ("Has anyone else had gaps like this?", {"gaps": PRESENT}),
]

AFFIRMED += [
    ("I can't remember a print that didn't have gaps.", {"gaps": PRESENT}),
    ("The walls have fine gaps.", {"gaps": PRESENT}),
    ("Stringing? No idea where it comes from.", {"string": MAYBE}),
]

FEARED: list[tuple[str, dict[str, str]]] = [
    ("I added a brim to prevent warping.", {}),
    ("I am worried about warping.", {}),
]


@pytest.mark.parametrize(("text", "expected"), DENIED)
def test_scope_reads_a_denial_as_absence(text: str, expected: dict[str, str]) -> None:
    """A denied symptom is absent, however the denial is put."""
    assert stated(text) == expected


@pytest.mark.parametrize(("text", "expected"), AFFIRMED)
def test_scope_sees_through_negative_words_that_deny_nothing(
    text: str, expected: dict[str, str]
) -> None:
    """A negative word that denies something else leaves the symptom standing."""
    assert stated(text) == expected


@pytest.mark.parametrize(("text", "expected"), SPLIT)
def test_scope_ends_a_denial_where_the_thought_ends(text: str, expected: dict[str, str]) -> None:
    """Only what the denial reaches is absent."""
    assert stated(text) == expected


@pytest.mark.parametrize(("text", "expected"), PRAISED)
def test_scope_reads_praise_as_absence(text: str, expected: dict[str, str]) -> None:
    """Praise of a subject makes its fault absent; withheld praise hints at it."""
    assert stated(text) == expected


@pytest.mark.parametrize(("text", "expected"), OVER)
def test_scope_reads_what_is_over_as_weak_absence(text: str, expected: dict[str, str]) -> None:
    """A symptom said to be over is probably absent, unless it came back."""
    assert stated(text) == expected


@pytest.mark.parametrize(("text", "expected"), DOUBTED)
def test_scope_weakens_doubted_statements(text: str, expected: dict[str, str]) -> None:
    """Doubt, questions, conditions and hearsay weaken a statement."""
    assert stated(text) == expected


@pytest.mark.parametrize(("text", "expected"), FEARED)
def test_scope_leaves_out_what_is_only_feared(text: str, expected: dict[str, str]) -> None:
    """Something guarded against has not been seen."""
    assert stated(text) == expected
