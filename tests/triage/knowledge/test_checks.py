"""Gaps in the knowledge, and knowledge built in code."""

from dataclasses import replace

import pytest

from tests.triage.networks import make_action, make_fault, make_finding, make_network
from triage.errors import KnowledgeError
from triage.knowledge import Link, build_knowledge, check_knowledge


def found_gaps(**changes: object) -> list[str]:
    """Return the problems of a complete small knowledge after some changes."""
    values: dict[str, object] = {
        "faults": [make_fault("f0")],
        "findings": [make_finding("e0")],
        "links": [Link("f0", "e0", 0.5, "memory")],
        "actions": [make_action("a0", cures={"f0": 0.5})],
    }
    knowledge = build_knowledge(**(values | changes))  # type: ignore[arg-type]
    sourced = "source: unknown source 'memory'"
    return [str(item) for item in check_knowledge(knowledge) if sourced not in str(item)]


def test_complete_knowledge_has_no_gaps() -> None:
    """The starting point of the other tests is complete."""
    assert found_gaps() == []


@pytest.mark.parametrize(
    ("changes", "problem"),
    [
        ({"links": []}, "fault f0: no finding is linked to this fault"),
        ({"links": []}, "finding e0: no fault explains this finding"),
        ({"actions": []}, "fault f0: no remedy cures this fault"),
        (
            {"actions": [make_action("a0", process="VPP", cures={"f0": 0.5})]},
            "fault f0: its remedy 'a0' is for VPP",
        ),
        ({"actions": [make_action("a0")]}, "action a0: cures: a remedy must cure a fault"),
        (
            {"actions": [make_action("c0", kind="check")]},
            "action c0: settles: a check must settle a finding",
        ),
        (
            {
                "actions": [
                    make_action("a0", cures={"f0": 0.5}, after=("a1",)),
                    make_action("a1", cures={"f0": 0.5}, after=("a0",)),
                ]
            },
            "action a1: after: it would have to come after itself",
        ),
        (
            {"actions": [make_action("a0", cures={"f0": 0.5}, after=("a9",))]},
            "action a0: after: unknown action 'a9'; the nearest valid name is 'a0'",
        ),
    ],
)
def test_gap_is_named(changes: dict[str, object], problem: str) -> None:
    """What would leave a case without question or answer is reported."""
    assert problem in found_gaps(**changes)


def test_actions_for_any_process_suit_every_fault() -> None:
    """Neither an action nor a fault of any process crosses processes."""
    assert found_gaps(actions=[make_action("a0", process="any", cures={"f0": 0.5})]) == []
    assert found_gaps(faults=[make_fault("f0", process="any")]) == []


def test_a_finding_that_only_raises_a_danger_needs_no_fault() -> None:
    """A danger is worth asking about for itself."""
    findings = [make_finding("e0"), make_finding("e1", danger="smoke")]

    assert found_gaps(findings=findings) == [
        "finding e1: danger: unknown danger 'smoke'",
    ]


def test_building_refuses_a_second_entry_of_an_id() -> None:
    """Two entries of one id are never merged silently."""
    with pytest.raises(KnowledgeError, match="fault f0: this id is already taken"):
        build_knowledge(faults=[make_fault("f0"), make_fault("f0")], findings=[])


@pytest.mark.parametrize(
    ("links", "message"),
    [
        ([Link("f9", "e0", 0.5, "m")], "link f9 -> e0: unknown fault 'f9'; .* 'f0'"),
        ([Link("f0", "e9", 0.5, "m")], "link f0 -> e9: unknown finding 'e9'; .* 'e0'"),
        ([Link("f0", "e0", 0.5, "m")] * 2, "link f0 -> e0: this link is given twice"),
    ],
)
def test_building_refuses_links_that_do_not_fit(links: list[Link], message: str) -> None:
    """The number tables can only be made of links between entries, each once."""
    with pytest.raises(KnowledgeError, match=message):
        build_knowledge(faults=[make_fault()], findings=[make_finding()], links=links)


def test_building_refuses_a_cure_of_an_unknown_fault() -> None:
    """The message names the action and the nearest fault."""
    with pytest.raises(KnowledgeError, match=r"action a0: cures: unknown fault 'f1'; .* 'f0'"):
        build_knowledge(
            faults=[make_fault()], findings=[], actions=[make_action(cures={"f1": 0.5})]
        )


def test_version_of_built_knowledge_follows_its_content() -> None:
    """Another prior is another version."""
    one = make_network([0.1], [0.1], {(0, 0): 0.5})
    same = make_network([0.1], [0.1], {(0, 0): 0.5})
    other = make_network([0.2], [0.1], {(0, 0): 0.5})

    assert one.version == same.version != other.version
    assert replace(one.faults["f0"], prior=0.2) == other.faults["f0"]
