"""How many ways of saying a thing are counted, and for what many are wanted."""

import pytest

from tests.triage.networks import make_action, make_fault, make_finding
from triage.knowledge import (
    LEAST_WAYS,
    Link,
    Phrases,
    Risk,
    build_knowledge,
    check_ways,
    common_entries,
    count_thin,
    count_ways,
    load_knowledge,
)


@pytest.mark.parametrize(
    ("patterns", "ways"),
    [
        (("added brim",), 1),
        (("added/used/tried brim",), 3),
        (("lower*/lowered/lowering speed",), 1),
        (("washed bed/plate/glass", "scrubbed bed/plate/glass"), 4),
        (("slow* .. print?", "slow* .. print?"), 1),
        (("slow* print/part/model?",), 1),
        (("raised/upped it", "cranked/upped it"), 3),
        (("hot-end", "hotend"), 2),
        ((), 0),
    ],
)
def test_ways_are_patterns_and_other_words(patterns: tuple[str, ...], ways: int) -> None:
    """A form of a word adds nothing, and a word counts once for a thing."""
    assert count_ways(patterns) == ways


def test_common_is_what_the_numbers_make_frequent() -> None:
    """Remedies by what they cure, findings by how often they show, circumstances by their odds."""
    knowledge = build_knowledge(
        faults=[make_fault("often", prior=0.4), make_fault("seldom", prior=0.001)],
        findings=[make_finding("seen"), make_finding("measured", kind="measure")],
        links=[
            Link("often", "seen", 0.5, "memory"),
            Link("often", "measured", 0.5, "memory"),
        ],
        risks=[
            Risk("told", "Told", "Is it?", "MEX", {"often": 2.0}, "memory"),
            Risk("rare", "Rare", "Is it?", "MEX", {"seldom": 2.0}, "memory"),
            Risk("held", "Held", "Is it?", "MEX", {"often": 2.0}, "memory", machines=("kind",)),
        ],
        actions=[
            make_action("cure", cures={"often": 0.5}),
            make_action("odd", cures={"seldom": 0.5}),
            make_action("look", kind="check", settles=("seen",)),
        ],
        phrases={"tried": {"cure": Phrases(("did/made/had it",), named=("cure",))}},
    )

    assert common_entries(knowledge) == {
        "tried": ("cure",),
        "risk": ("told",),
        "finding": ("seen",),
    }
    assert count_thin(knowledge) == {
        "of 1 common remedies": 1,
        "of 1 common circumstances": 1,
        "of 1 common findings": 1,
    }
    (problem,) = check_ways(knowledge)
    assert (problem.key, problem.message) == (
        "phrases tried.cure",
        f"4 ways of saying it are known; it takes {LEAST_WAYS}",
    )


def test_more_than_a_hundred_and_fifty_remedies_are_common() -> None:
    """The rule does not shrink the list it is applied to."""
    assert len(common_entries(load_knowledge())["tried"]) >= 150
