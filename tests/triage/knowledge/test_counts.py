"""How much there is, and where the numbers come from."""

from tests.triage.networks import make_action, make_fault, make_finding
from triage.knowledge import (
    Link,
    Material,
    Phrases,
    Risk,
    build_knowledge,
    count_kinds,
    count_sources,
    load_knowledge,
)

SMALL = build_knowledge(
    faults=[make_fault("f0"), make_fault("f1", source="book")],
    findings=[make_finding("e0"), make_finding("e1", kind="sense")],
    links=[Link("f0", "e0", 0.5, "book")],
    risks=[Risk("r0", "Risk", "Is it so?", "MEX", {"f0": 2.0, "f1": 0.5}, "label")],
    actions=[
        make_action("a0", cures={"f0": 0.5, "f1": 0.2}),
        make_action("c0", kind="check", settles=("e0",), source="book"),
    ],
    materials=[
        Material(
            "PLA",
            "Polylactide",
            "MEX",
            ("pla",),
            "label",
            nozzle_c=(190.0, 220.0),
            glass_c=58.0,
            sources={"glass_c": "book"},
        )
    ],
    phrases={"finding": {"e0": Phrases(("one", "two"), ("three",))}},
)


def test_entries_are_counted_by_kind() -> None:
    """Findings and actions also by their own kinds."""
    counts = count_kinds(SMALL)

    assert (counts["faults"], counts["risks"], counts["phrases"]) == (2, 1, 3)
    assert (counts["part findings"], counts["sense findings"]) == (1, 1)
    assert (counts["remedy actions"], counts["check actions"]) == (1, 1)


def test_numbers_are_counted_by_source() -> None:
    """Priors, leaks, links, odds, efforts, cures and the numbers of materials."""
    assert count_sources(SMALL) == {"memory": 6, "book": 4, "label": 3}


def test_knowledge_is_as_full_as_it_has_to_be() -> None:
    """Each of the five kinds of findings is well filled, and nothing shrinks unnoticed."""
    counts = count_kinds(load_knowledge())
    least = {
        "faults": 72,
        "findings": 180,
        "risks": 60,
        "links": 900,
        "part findings": 60,
        "machine findings": 50,
        "sense findings": 20,
        "measure findings": 50,
        "circumstance findings": 50,
        "materials": 16,
        "machines": 16,
    }

    assert {name: counts[name] for name in least if counts[name] < least[name]} == {}
    assert counts["check actions"] + counts["remedy actions"] >= 220
