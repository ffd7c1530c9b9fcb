"""Whether the knowledge is deep enough, tried on small networks with one thing wrong."""

from dataclasses import replace

import pytest

from tests.triage.networks import make_action, make_fault, make_finding
from triage.knowledge import (
    Danger,
    Knowledge,
    Link,
    Material,
    Phrases,
    Risk,
    build_knowledge,
    check_depth,
    nearest_faults,
    telling_checks,
)

NAMES = ("corner lifted", "clicking", "strings", "gap at seam", "warm motor")
LINKS = {("f0", at): 0.5 for at in range(4)} | {("f1", at): 0.5 for at in range(1, 5)}


def make_deep(links: dict[tuple[str, int], float] | None = None, **changes: object) -> Knowledge:
    """Return two faults with four signs each, told apart by one check, after some changes."""
    values: dict[str, object] = {
        "faults": [make_fault("f0", prior=0.5), make_fault("f1", prior=0.5)],
        "findings": [
            replace(make_finding(f"e{at}"), name=name, question=f"Do you see {name}?")
            for at, name in enumerate(NAMES)
        ],
        "links": [
            Link(fault, f"e{at}", p, "memory") for (fault, at), p in (links or LINKS).items()
        ],
        "actions": [make_action("c0", kind="check", settles=("e0",))],
    }
    return build_knowledge(**(values | changes))  # type: ignore[arg-type]


def found(knowledge: Knowledge) -> list[str]:
    """Return what is wrong, as sentences."""
    return [str(problem) for problem in check_depth(knowledge)]


def test_deep_knowledge_has_no_problem() -> None:
    """The starting point of the other tests is sound."""
    assert found(make_deep()) == []


def test_a_fault_with_few_signs_is_named() -> None:
    """A weak link is no sign."""
    assert found(make_deep(LINKS | {("f0", 3): 0.19})) == [
        "fault f0: 3 findings have a link of 0.2 or more; it takes 4 to find the fault"
    ]


def test_faults_no_check_tells_apart_are_named() -> None:
    """A check of a finding that both explain does not tell."""
    knowledge = make_deep(actions=[make_action("c0", kind="check", settles=("e1",))])

    assert [line[:44] for line in found(knowledge)] == [
        "fault f0: no check tells it from 'f1', which",
        "fault f1: no check tells it from 'f0', which",
    ]


def test_a_check_of_another_process_tells_nothing() -> None:
    """What cannot be done at this machine does not count."""
    check = make_action("c0", kind="check", process="VPP", settles=("e0",))

    assert len(found(make_deep(actions=[check]))) == 2


def test_nearest_faults_share_findings_and_a_process() -> None:
    """Faults that never meet in one case, or have nothing in common, are no neighbours."""
    faults = [make_fault("f0"), make_fault("f1"), make_fault("f2", process="VPP"), make_fault("f3")]
    links = {("f0", 0): 0.9, ("f0", 1): 0.1, ("f1", 0): 0.9, ("f2", 0): 0.9, ("f3", 1): 0.5}
    knowledge = make_deep(links, faults=faults)

    assert nearest_faults(knowledge) == {
        "f0": ("f1", "f3"),
        "f1": ("f0",),
        "f2": (),
        "f3": ("f0",),
    }
    assert nearest_faults(knowledge, 1)["f0"] == ("f1",)
    assert telling_checks(knowledge, "f0", "f3") == ("c0",)
    assert telling_checks(knowledge, "f0", "f1") == ()


@pytest.mark.parametrize(
    "changes",
    [
        {"name": "The corners, lifted"},
        {"name": "Other", "question": "So do you see the corner lifted?"},
    ],
)
def test_two_findings_of_the_same_words_are_named(changes: dict[str, str]) -> None:
    """Endings, order of words and small words make no difference."""
    knowledge = make_deep()
    findings = list(knowledge.findings.values())
    findings[3] = replace(findings[3], **changes)  # type: ignore[arg-type]

    assert found(make_deep(findings=findings)) == ["finding e3: means the same as 'e0'"]


def test_two_findings_of_like_words_and_the_same_faults_are_named() -> None:
    """Half the words and the same links say the same; the same links alone do not."""
    knowledge = make_deep()
    findings = list(knowledge.findings.values())
    findings[2] = replace(findings[2], name="strings clicking")

    assert found(make_deep(findings=findings)) == ["finding e2: means the same as 'e1'"]


def test_findings_of_different_processes_may_share_words() -> None:
    """A resin printer has layers that split, too."""
    findings = list(make_deep().findings.values())
    findings.append(replace(findings[0], id="e9", process="VPP"))

    assert found(make_deep(findings=findings)) == []


def test_a_danger_that_nothing_raises_is_named() -> None:
    """It takes a finding or a phrase."""
    danger = Danger("smoke", "Smoke", "Switch off.", "c")
    spoken = {"danger": {"smoke": Phrases(("smoke",))}}

    assert found(make_deep(dangers=[danger])) == [
        "danger smoke: no finding and no phrase raises it"
    ]
    assert found(make_deep(dangers=[danger], phrases=spoken)) == []


def test_priors_that_do_not_add_up_to_a_failed_print_are_named() -> None:
    """A failed print has about one fault or two."""
    faults = [make_fault("f0", prior=0.1), make_fault("f1", prior=0.2)]

    assert found(make_deep(faults=faults)) == [
        "faults: the priors of MEX add up to 0.30 faults in a failed print; 0.8 to 2.2 make sense"
    ]


@pytest.mark.parametrize(
    ("odds", "problem"),
    [
        (25.0, "risk r0: odds f0: 25 is outside 0.01 to 20 odds ratio"),
        (1.0, "risk r0: odds f0: an odds ratio of 1 says nothing"),
    ],
)
def test_an_odds_ratio_that_makes_no_sense_is_named(odds: float, problem: str) -> None:
    """Neither a certainty nor nothing."""
    risk = Risk("r0", "Risk", "Is it so?", "MEX", {"f0": odds}, "memory")

    assert found(make_deep(risks=[risk])) == [problem]


def test_effort_in_the_wrong_unit_is_named() -> None:
    """Seconds written for minutes are noticed."""
    actions = [make_action("c0", kind="check", settles=("e0",), minutes=300.0)]

    assert found(make_deep(actions=actions)) == [
        "action c0: minutes: 300 is outside 0.5 to 240 min"
    ]


@pytest.mark.parametrize(
    ("changes", "problem"),
    [
        ({"nozzle_c": (390.0, 460.0)}, "nozzle_c: 460 is outside 150 to 450 °C"),
        ({"density_g_cm3": 1240.0}, "density_g_cm3: 1240 is outside 0.8 to 4 g/cm³"),
        (
            {"nozzle_c": (190.0, 220.0), "bed_c": (60.0, 190.0)},
            "bed_c: the plate, 190 °C, would be hotter than the nozzle",
        ),
        (
            {"sources": {"densty_g_cm3": "memory"}},
            "sources densty_g_cm3: unknown key; the nearest valid name is 'density_g_cm3'",
        ),
        (
            {"sources": {"glass_c": "memory"}},
            "sources glass_c: there is no such number of this material to give a source for",
        ),
    ],
)
def test_a_strange_number_of_a_material_is_named(changes: dict[str, object], problem: str) -> None:
    """Value, range and unit are in the message."""
    material = replace(Material("PLA", "Polylactide", "MEX", ("pla",), "memory"), **changes)  # type: ignore[arg-type]

    assert found(make_deep(materials=[material])) == [f"material PLA: {problem}"]
