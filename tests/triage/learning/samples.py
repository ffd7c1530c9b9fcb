"""Lessons and a small network for the tests of learning."""

from typing import Any

from tests.triage.networks import make_action, make_network
from triage.knowledge import Knowledge, Risk
from triage.learning import Lesson


def make_lesson(name: str = "case-1", /, **overrides: Any) -> Lesson:
    """Return a lesson with the values given and ordinary ones for the rest."""
    values: dict[str, object] = {
        "id": name,
        "process": "MEX",
        "material": None,
        "faults": frozenset({"f0"}),
        "findings": {},
        "risks": (),
        "remedies": {},
        "basis": "cured",
    }
    return Lesson(**(values | overrides))  # type: ignore[arg-type]


def make_small() -> Knowledge:
    """Return two faults and three findings; e0 comes from both, e2 from neither."""
    return make_network(
        [0.2, 0.1],
        [0.05, 0.02, 0.04],
        {(0, 0): 0.8, (1, 0): 0.5, (0, 1): 0.3},
        actions=[make_action("mend", cures={"f0": 0.7, "f1": 0.4})],
        risks=[
            Risk("damp", "Damp air", "Is the air damp?", "any", {"f0": 3.0}, "memory"),
            Risk("dry", "Dry air", "Is the air dry?", "any", {"f0": 0.25}, "memory"),
        ],
    )
