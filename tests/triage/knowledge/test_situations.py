"""Situations of the trade, ranked by the knowledge as it stands (situations.toml)."""

import tomllib
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from triage.diagnose import TELLING
from triage.evidence import Evidence, Observation, TriedRemedy
from triage.inference import compute_posterior
from triage.knowledge import implied_risks, load_knowledge

FILE = Path(__file__).parent / "situations.toml"
KEYS = {
    "says",
    "process",
    "material",
    "machine",
    "risks",
    "present",
    "absent",
    "tried",
    "expected",
}
BEST = 3  # each expected fault is among so many
SHARE_FIRST = 0.9  # of situations whose first expected fault leads

KNOWLEDGE = load_knowledge()
SITUATIONS = tomllib.loads(FILE.read_text(encoding="utf-8"))["situation"]


def evidence_of(situation: dict[str, Any]) -> Evidence:
    """Return a situation as the evidence of a report that tells it freely."""
    material, machine = situation.get("material"), situation.get("machine")
    told = situation.get("risks", ())
    implied = implied_risks(KNOWLEDGE, material=material, machine=machine)
    return Evidence(
        process=situation["process"],
        material=material,
        machine=machine,
        observations=(
            *(Observation(name, "present") for name in situation.get("present", ())),
            *(Observation(name, "absent") for name in situation.get("absent", ())),
        ),
        risks=tuple(dict.fromkeys((*told, *implied))),
        tried=tuple(TriedRemedy(name, "no-change") for name in situation.get("tried", ())),
        telling=TELLING,
    )


def rank(situation: dict[str, Any]) -> list[str]:
    """Return the faults of a situation, likeliest first."""
    return [fault.id for fault in compute_posterior(KNOWLEDGE, evidence_of(situation)).ranked]


@pytest.mark.parametrize("situation", SITUATIONS, ids=[item["says"] for item in SITUATIONS])
def test_situation_ranks_its_faults_first(situation: dict[str, Any]) -> None:
    """Every fault a person of the trade would look into is among the first three."""
    assert set(situation) <= KEYS
    best = rank(situation)[:BEST]

    assert set(situation["expected"]) <= set(best), f"ranked: {', '.join(best)}"


def test_most_situations_are_led_by_their_first_fault() -> None:
    """Being among three is the least; nearly always the right one leads."""
    leading = sum(rank(item)[0] == item["expected"][0] for item in SITUATIONS)

    assert leading >= SHARE_FIRST * len(SITUATIONS)


def test_situations_cover_every_fault_and_differ() -> None:
    """No fault is left without a situation, and none is told twice."""
    expected = Counter(fault for item in SITUATIONS for fault in item["expected"])

    assert set(expected) == set(KNOWLEDGE.faults)
    assert len({item["says"] for item in SITUATIONS}) == len(SITUATIONS)
