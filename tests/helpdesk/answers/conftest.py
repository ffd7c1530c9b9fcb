"""A small knowledge and view, so that new wording in the real ones breaks no test here."""

import datetime
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.diagnosis import engine, selectors
from helpdesk.diagnosis.engine import catalogue
from helpdesk.diagnosis.models import Verdict
from helpdesk.diagnosis.values import (
    CaseView,
    DangerView,
    FindingView,
    ReasonView,
    StepView,
    SuspectView,
)
from tests.factories import make_case, make_user
from triage.knowledge import (
    Action,
    Caution,
    Danger,
    Fault,
    Finding,
    Knowledge,
    build_knowledge,
)

SetView = Callable[..., CaseView]

FAULTS: list[dict[str, Any]] = [
    {
        "id": "draughty-room",
        "process": "MEX",
        "family": "thermal",
        "name": "The corners cool too fast",
        "sign": "Corners lift after an hour",
        "why": "Plastic shrinks as it cools, and a cold corner pulls first.",
        "prior": 0.1,
        "source": "memory",
    },
    {
        "id": "loose-belt",
        "process": "MEX",
        "family": "motion",
        "name": "A belt is slack",
        "sign": "Circles are oval",
        "why": "A slack belt lets the carriage lag behind.",
        "prior": 0.1,
        "source": "memory",
    },
]
FINDINGS: list[dict[str, Any]] = [
    {
        "id": "corners-up",
        "kind": "part",
        "process": "MEX",
        "name": "Corners have lifted",
        "question": "Have corners lifted?",
        "leak": 0.02,
        "minutes": 1.0,
        "source": "memory",
    },
]
CAUTIONS: list[dict[str, Any]] = [
    {"id": "hot-plate", "text": "The plate is hot enough to burn.", "danger": False},
    {"id": "unplug", "text": "Switch off and unplug.", "danger": True},
]
DANGERS: list[dict[str, Any]] = [
    {
        "id": "hot-plug",
        "name": "A hot plug",
        "say": "Please switch off at the wall and unplug the printer now.",
        "caution": "unplug",
    }
]
ACTIONS: list[dict[str, Any]] = [
    {
        "id": "unplug-first",
        "kind": "safety",
        "process": "any",
        "name": "Switch off and unplug",
        "how": "Pull the plug by its body.",
        "minutes": 1.0,
        "cautions": ("unplug",),
        "source": "memory",
    },
    {
        "id": "close-the-window",
        "kind": "remedy",
        "process": "MEX",
        "name": "Close the window",
        "how": "Keep the draught away from the printer.",
        "minutes": 1.0,
        "cures": {"draughty-room": 0.5},
        "source": "memory",
    },
    {
        "id": "warm-the-plate",
        "kind": "remedy",
        "process": "MEX",
        "name": "Warm the plate",
        "how": "Set the plate 5 °C higher.",
        "minutes": 1.0,
        "wait_minutes": 150.0,
        "cures": {"draughty-room": 0.6},
        "cautions": ("hot-plate",),
        "source": "memory",
    },
    {
        "id": "tighten-belt",
        "kind": "remedy",
        "process": "MEX",
        "name": "Tighten the belt",
        "how": "Turn the tensioner half a turn.",
        "minutes": 5.0,
        "cures": {"loose-belt": 0.8},
        "source": "memory",
    },
]


@pytest.fixture(autouse=True)
def knowledge(monkeypatch: pytest.MonkeyPatch) -> Knowledge:
    """Put the small knowledge in place of the real one."""
    small = build_knowledge(
        faults=[Fault(**row) for row in FAULTS],
        findings=[Finding(**row) for row in FINDINGS],
        actions=[Action(**row) for row in ACTIONS],
        cautions=[Caution(**row) for row in CAUTIONS],
        dangers=[Danger(**row) for row in DANGERS],
    )
    monkeypatch.setattr(catalogue, "expert_knowledge", lambda: small)
    return small


@pytest.fixture
def set_view(monkeypatch: pytest.MonkeyPatch) -> SetView:
    """Return a function that decides what the desk thinks of every case."""

    def put(*, danger: bool = False, **changes: Any) -> CaseView:
        view = replace(_view(danger=danger), **changes)
        monkeypatch.setattr(selectors, "get_view", lambda case: view)
        return view

    put()
    return put


@pytest.fixture
def case(db: None, set_view: SetView) -> Case:
    """Open a case by web form whose person reads mail."""
    return make_case(title="Box with lifted corners")


@pytest.fixture
def colleague(db: None) -> User:
    """Make a second reviewer."""
    return make_user("teodor", role="reviewer", first_name="Teodor")


def confirm(case: Case, *faults: str) -> None:
    """Record a verdict."""
    for position, fault in enumerate(faults):
        Verdict.objects.create(
            case=case,
            fault=fault,
            fault_name=engine.fault_info(fault).name,
            position=position,
            set_at=case.opened_at,
        )


def _view(*, danger: bool) -> CaseView:
    names = ["close-the-window", "warm-the-plate"]
    if danger:
        names.insert(0, "unplug-first")
    infos = [engine.action_info(name) for name in names]
    reason = ReasonView(
        finding="corners-up",
        kind="finding",
        state="present",
        label="Corners have lifted",
        decibans=9.0,
        source="text",
    )
    hot = DangerView(
        id="hot-plug",
        name="A hot plug",
        say=DANGERS[0]["say"],
        quote="the plug is hot",
        findings=(),
    )
    return CaseView(
        suspects=(
            SuspectView(
                fault="draughty-room",
                name="The corners cool too fast",
                sign="Corners lift after an hour",
                probability=0.7,
                reasons=(reason,),
            ),
        ),
        others=0,
        findings=(
            FindingView(
                id="corners-up", name="Corners have lifted", state="present", source="text"
            ),
        ),
        spans=(),
        readings=(),
        questions=(),
        plan=tuple(
            StepView(
                action=info.id,
                kind=info.kind,
                name=info.name,
                how=info.how,
                why="",
                minutes=info.minutes,
                wait_minutes=info.wait_minutes,
                success=0.5,
            )
            for info in infos
        ),
        expected_minutes=5.0,
        dangers=(hot,) if danger else (),
        facts=(),
        notes=(),
        would_change="",
        fits=True,
        process="MEX",
        made_at=datetime.datetime(2026, 11, 24, 12, tzinfo=datetime.UTC),
        knowledge_version="test",
        cause="test",
    )
