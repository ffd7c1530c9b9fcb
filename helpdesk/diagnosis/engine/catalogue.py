"""What the knowledge holds, as plain frozen values of the desk.

Pages and services depend on nothing of the engine's making.
"""

import functools
from collections.abc import Collection
from dataclasses import dataclass

from helpdesk.diagnosis.engine.knowledge import expert_knowledge
from helpdesk.diagnosis.errors import UnknownThingError

ANY_PROCESS = "any"


@dataclass(frozen=True)
class FaultInfo:
    """A cause, as the knowledge describes it."""

    id: str
    name: str
    sign: str
    why: str
    family: str
    process: str


@dataclass(frozen=True)
class FindingInfo:
    """Something that can be observed; `danger` is the id of the danger it raises, or ""."""

    id: str
    name: str
    question: str
    help: str
    kind: str
    minutes: float
    needs: tuple[str, ...]
    process: str
    danger: str


@dataclass(frozen=True)
class CautionInfo:
    """Words that go with a step which can hurt."""

    id: str
    text: str
    is_danger: bool


@dataclass(frozen=True)
class ActionInfo:
    """A safety step, a check or a remedy; `cures` names the faults it may cure."""

    id: str
    kind: str
    name: str
    how: str
    minutes: float
    wait_minutes: float
    tools: tuple[str, ...]
    cautions: tuple[CautionInfo, ...]
    cures: tuple[str, ...]
    settles: tuple[str, ...]
    process: str


@dataclass(frozen=True)
class DangerInfo:
    """Something that comes before everything else; `caution` is the id of its caution."""

    id: str
    name: str
    say: str
    caution: str


def fault_info(fault_id: str) -> FaultInfo:
    """Return what is known of a fault.

    Raises UnknownThingError when the knowledge has no such fault.
    """
    entry = expert_knowledge().faults.get(fault_id)
    if entry is None:
        raise UnknownThingError("fault", fault_id)
    return FaultInfo(
        id=entry.id,
        name=entry.name,
        sign=entry.sign,
        why=entry.why,
        family=entry.family,
        process=entry.process,
    )


def finding_info(finding_id: str) -> FindingInfo:
    """Return what is known of a finding.

    Raises UnknownThingError when the knowledge has no such finding.
    """
    entry = expert_knowledge().findings.get(finding_id)
    if entry is None:
        raise UnknownThingError("finding", finding_id)
    return FindingInfo(
        id=entry.id,
        name=entry.name,
        question=entry.question,
        help=entry.help,
        kind=entry.kind,
        minutes=entry.minutes,
        needs=entry.needs,
        process=entry.process,
        danger=entry.danger or "",
    )


def action_info(action_id: str) -> ActionInfo:
    """Return what is known of an action, with the cautions that go with it.

    Raises UnknownThingError when the knowledge has no such action.
    """
    entry = expert_knowledge().actions.get(action_id)
    if entry is None:
        raise UnknownThingError("action", action_id)
    return ActionInfo(
        id=entry.id,
        kind=entry.kind,
        name=entry.name,
        how=entry.how,
        minutes=entry.minutes,
        wait_minutes=entry.wait_minutes,
        tools=entry.tools,
        cautions=tuple(caution_info(name) for name in entry.cautions),
        cures=tuple(entry.cures),
        settles=entry.settles,
        process=entry.process,
    )


def caution_info(caution_id: str) -> CautionInfo:
    """Return a caution; raises UnknownThingError when the knowledge has no such caution."""
    entry = expert_knowledge().cautions.get(caution_id)
    if entry is None:
        raise UnknownThingError("caution", caution_id)
    return CautionInfo(id=entry.id, text=entry.text, is_danger=entry.danger)


def danger_info(danger_id: str) -> DangerInfo:
    """Return a danger; raises UnknownThingError when the knowledge has no such danger."""
    entry = expert_knowledge().dangers.get(danger_id)
    if entry is None:
        raise UnknownThingError("danger", danger_id)
    return DangerInfo(id=entry.id, name=entry.name, say=entry.say, caution=entry.caution)


def risk_name(risk_id: str) -> str:
    """Return the name of a circumstance, or its id when the knowledge has it no more."""
    entry = expert_knowledge().risks.get(risk_id)
    return entry.name if entry else risk_id


@functools.cache
def list_faults(process: str = "") -> tuple[FaultInfo, ...]:
    """Return the faults a process can have, by name; all of them for ""."""
    entries = expert_knowledge().faults.values()
    fitting = [fault_info(e.id) for e in entries if _fits(e.process, process)]
    return tuple(sorted(fitting, key=lambda info: info.name))


@functools.cache
def list_findings(process: str = "") -> tuple[FindingInfo, ...]:
    """Return the findings a process can show, by name; all of them for ""."""
    entries = expert_knowledge().findings.values()
    fitting = [finding_info(e.id) for e in entries if _fits(e.process, process)]
    return tuple(sorted(fitting, key=lambda info: info.name))


def list_actions(kinds: Collection[str] = ("remedy",), process: str = "") -> list[ActionInfo]:
    """Return the actions of some kinds that fit a process, by name."""
    entries = expert_knowledge().actions.values()
    fitting = [action_info(e.id) for e in entries if e.kind in kinds and _fits(e.process, process)]
    return sorted(fitting, key=lambda info: info.name)


@functools.cache
def list_danger_findings(danger_id: str) -> tuple[str, ...]:
    """Return the ids of the findings that raise a danger."""
    return tuple(e.id for e in expert_knowledge().findings.values() if e.danger == danger_id)


def knowledge_version() -> str:
    """Return the short hash of the expert's knowledge."""
    return expert_knowledge().version


def _fits(own: str, wanted: str) -> bool:
    """Return True when something written for one process has a place in another's case."""
    return not wanted or own in (wanted, ANY_PROCESS)


@functools.cache
def list_tools(process: str = "") -> tuple[str, ...]:
    """Return the tools that questions of a process need, in alphabetical order."""
    found = {
        tool
        for finding in expert_knowledge().findings.values()
        if finding.process in (process, ANY_PROCESS) or not process
        for tool in finding.needs
    }
    return tuple(sorted(found))
