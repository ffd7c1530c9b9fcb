"""Kinds of machine and materials: what they rule out."""

import pytest

from tests.triage.networks import make_fault
from triage.diagnose import Diagnoser, ReportInput
from triage.errors import UnknownIdError
from triage.knowledge import (
    Knowledge,
    Machine,
    implied_risks,
    load_knowledge,
    suits_machine,
    suits_material,
)

DELTA = Machine("delta", "Delta", "MEX", ("delta",), "memory", ("belts",), ("lifting-screw",))


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    """Return the knowledge of the engine."""
    return load_knowledge()


@pytest.mark.parametrize(
    ("limits", "possible"),
    [
        ({}, True),
        ({"never_machines": ("delta",)}, False),
        ({"never_machines": ("belts",)}, False),
        ({"never_machines": ("lifting-screw",)}, True),
        ({"only_machines": ("delta",)}, True),
        ({"only_machines": ("belts", "lifting-screw")}, True),
        ({"only_machines": ("lifting-screw",)}, False),
        # Nothing is known of an enclosure, so nothing is ruled out.
        ({"only_machines": ("enclosed",)}, True),
    ],
)
def test_traits_a_machine_has_or_lacks_rule_faults_out(
    limits: dict[str, tuple[str, ...]], possible: bool
) -> None:
    """What is left open rules nothing out."""
    fault = make_fault("f0", **limits)

    assert suits_machine(fault, DELTA) is possible
    assert suits_machine(fault, None)


def test_materials_rule_faults_out() -> None:
    """By name, one way or the other; an unknown material rules nothing out."""
    never, only = make_fault(never_materials=("PLA",)), make_fault(only_materials=("PLA",))

    assert [suits_material(never, code) for code in ("PLA", "ABS", None)] == [False, True, True]
    assert [suits_material(only, code) for code in ("PLA", "ABS", None)] == [True, False, True]


@pytest.mark.parametrize(
    ("machine", "impossible"),
    [
        ("delta", "z-drive-wobble"),
        ("screw-driven-gantry", "belt-loose"),
        ("pellet-printer", "spool-drag-or-tangle"),
        ("open-frame", "enclosure-too-hot"),
        ("direct-feed-all-metal", "tube-gap-or-damage"),
        ("heated-chamber", "draught-or-cold-air"),
        ("resin-top-down", "resin-film-worn"),
    ],
)
def test_a_machine_makes_faults_impossible(
    knowledge: Knowledge, machine: str, impossible: str
) -> None:
    """A fault that needs a part the machine has not got has probability 0."""
    process = knowledge.machines[machine].process
    report = ReportInput("a", process=process, machine=machine)
    posterior = Diagnoser(knowledge).diagnose(report).posterior
    chances = {ranked.id: ranked.probability for ranked in posterior.ranked}

    assert chances.get(impossible, 0.0) == 0.0
    open_report = ReportInput("a", process=process)
    usual = Diagnoser(knowledge).diagnose(open_report).posterior.ranked
    assert {ranked.id: ranked.probability for ranked in usual}[impossible] > 0.0


def test_the_machine_is_read_from_the_text_and_overruled_by_the_form(
    knowledge: Knowledge,
) -> None:
    """The kind named in passing is taken unless the form names another."""
    diagnoser = Diagnoser(knowledge)
    text = "My bowden bed-slinger strings a lot."

    assert diagnoser.diagnose(ReportInput("a", text)).evidence.machine == "bed-slinger-guide-tube"
    given = ReportInput("a", text, machine="my old delta printer")
    assert diagnoser.diagnose(given).evidence.machine == "delta"


def test_an_unknown_machine_is_refused_with_the_nearest(knowledge: Knowledge) -> None:
    """Neither an id nor a word of any kind."""
    with pytest.raises(UnknownIdError, match=r"unknown machine 'corexyz'; .* 'corexy'"):
        Diagnoser(knowledge).diagnose(ReportInput("a", machine="corexyz"))


def test_risks_follow_from_material_and_machine(knowledge: Knowledge) -> None:
    """Nobody has to be asked whether polyamide takes up water; the answer has the reason once."""
    assert "thirsty-material" in implied_risks(knowledge, material="PA", machine=None)
    assert implied_risks(knowledge, material=None, machine="corexy-enclosed") == ("closed-printer",)
    assert implied_risks(knowledge, material=None, machine=None) == ()

    text = "Nylon takes up water so quickly, it strings."
    risks = Diagnoser(knowledge).diagnose(ReportInput("a", text, material="PA")).evidence.risks
    assert risks.count("thirsty-material") == 1
