"""From loose entries to one `Knowledge` with its number tables."""

from collections.abc import Iterable, Mapping
from hashlib import sha256
from typing import Protocol, TypeVar

import numpy as np

from triage.errors import KnowledgeError, Problem, suggest
from triage.knowledge._model import (
    ACTION_KINDS,
    APPARENT_KINDS,
    PROCESSES,
    Action,
    Bools,
    Caution,
    Danger,
    Entries,
    Fault,
    Finding,
    Floats,
    Knowledge,
    Link,
    Machine,
    Material,
    Network,
    PhraseBook,
    Risk,
    Source,
    Sparse,
    applies_to,
)


class _HasId(Protocol):
    @property
    def id(self) -> str: ...


Entry = TypeVar("Entry", bound=_HasId)


def build_knowledge(
    *,
    faults: Iterable[Fault],
    findings: Iterable[Finding],
    links: Iterable[Link] = (),
    risks: Iterable[Risk] = (),
    actions: Iterable[Action] = (),
    cautions: Iterable[Caution] = (),
    dangers: Iterable[Danger] = (),
    materials: Iterable[Material] = (),
    machines: Iterable[Machine] = (),
    sources: Iterable[Source] = (),
    phrases: PhraseBook | None = None,
) -> Knowledge:
    """Return a `Knowledge` made of the entries given.

    Only what the number tables need is checked here; `check_knowledge` looks at the rest, so
    that a small network may be built from a few entries.

    Parameters
    ----------
    faults, findings, links, risks, actions, cautions, dangers, materials, machines, sources
        Entries; their order is kept.
    phrases : mapping of kind to id to Phrases, optional
        What people say.

    Returns
    -------
    Knowledge

    Raises
    ------
    KnowledgeError
        If an id occurs twice, or a link or a cure names an unknown fault or finding.
    """
    entries = Entries(
        faults=_by_id("fault", faults),
        findings=_by_id("finding", findings),
        risks=_by_id("risk", risks),
        links=tuple(links),
        actions=_by_id("action", actions),
        cautions=_by_id("caution", cautions),
        dangers=_by_id("danger", dangers),
        materials={material.code: material for material in materials},
        machines=_by_id("machine", machines),
        sources={source.key: source for source in sources},
        phrases=dict(phrases or {}),
        files={},
    )
    return finish_knowledge(entries)


def finish_knowledge(entries: Entries, *, version: str | None = None) -> Knowledge:
    """Return the entries as `Knowledge`: with number tables and a version.

    Parameters
    ----------
    entries : Entries
        What the files say.
    version : str, optional
        Name of this state of the knowledge; by default a hash of the entries.

    Returns
    -------
    Knowledge

    Raises
    ------
    KnowledgeError
        If a link or a cure names an unknown fault or finding, or a link is given twice.
    """
    network = _make_network(entries)
    if version is None:
        version = sha256(repr(entries).encode()).hexdigest()[:12]
    return Knowledge(
        faults=entries.faults,
        findings=entries.findings,
        risks=entries.risks,
        links=entries.links,
        actions=entries.actions,
        cautions=entries.cautions,
        dangers=entries.dangers,
        materials=entries.materials,
        machines=entries.machines,
        sources=entries.sources,
        phrases=entries.phrases,
        files=entries.files,
        version=version,
        network=network,
    )


def _by_id(kind: str, entries: Iterable[Entry]) -> Mapping[str, Entry]:
    """Return the entries by id, refusing a second entry of the same id."""
    found: dict[str, Entry] = {}
    for entry in entries:
        if entry.id in found:
            raise KnowledgeError(Problem("", f"{kind} {entry.id}", "this id is already taken"))
        found[entry.id] = entry
    return found


def _make_network(entries: Entries) -> Network:
    """Return the read-only number tables of the entries."""
    faults, findings, actions = entries.faults, entries.findings, entries.actions
    fault_at = {name: at for at, name in enumerate(faults)}
    finding_at = {name: at for at, name in enumerate(findings)}
    link = np.zeros((len(faults), len(findings)))
    for entry in entries.links:
        key = f"link {entry.fault} -> {entry.finding}"
        row = _place("fault", entry.fault, fault_at, key)
        column = _place("finding", entry.finding, finding_at, key)
        if link[row, column]:
            raise KnowledgeError(Problem("", key, "this link is given twice"))
        link[row, column] = entry.p
    cure = np.zeros((len(actions), len(faults)))
    for at, action in enumerate(actions.values()):
        for fault, chance in action.cures.items():
            cure[at, _place("fault", fault, fault_at, f"action {action.id}: cures")] = chance
    return Network(
        fault_ids=tuple(faults),
        finding_ids=tuple(findings),
        action_ids=tuple(actions),
        prior=_frozen(np.array([fault.prior for fault in faults.values()], dtype=float)),
        leak=_frozen(np.array([finding.leak for finding in findings.values()], dtype=float)),
        link=_frozen(link),
        cure=_frozen(cure),
        causes=_sparse(link.T),
        cured=_sparse(cure),
        occurs={process: _fitting(faults.values(), process) for process in PROCESSES},
        shows={process: _fitting(findings.values(), process) for process in PROCESSES},
        apparent=np.array(
            [finding.kind in APPARENT_KINDS for finding in findings.values()], dtype=bool
        ),
        does={process: _fitting(actions.values(), process) for process in PROCESSES},
        kinds={
            kind: np.array([action.kind == kind for action in actions.values()], dtype=bool)
            for kind in ACTION_KINDS
        },
        effort=_frozen(
            np.array(
                [(action.minutes, action.wait_minutes, action.money) for action in actions.values()]
            ).reshape(-1, 3)
        ),
        dangerous={
            at: finding.danger for at, finding in enumerate(findings.values()) if finding.danger
        },
        fault_at=fault_at,
        finding_at=finding_at,
        action_at={name: at for at, name in enumerate(actions)},
    )


def _place(kind: str, name: str, places: Mapping[str, int], key: str) -> int:
    """Return where `name` stands, or raise with the nearest name."""
    if name not in places:
        raise KnowledgeError(Problem("", key, f"unknown {kind} '{name}'{suggest(name, places)}"))
    return places[name]


def _fitting(entries: Iterable[Fault | Finding | Action], process: str) -> Bools:
    """Return which entries have a place in a process."""
    return np.array([applies_to(entry.process, process) for entry in entries], dtype=bool)


def _sparse(table: Floats) -> Sparse:
    """Return the entries of each row that are not 0, in the order of the columns."""
    most = int((table != 0.0).sum(axis=1).max(initial=0))
    at = np.argsort(table == 0.0, axis=1, kind="stable")[:, :most]
    value = np.take_along_axis(table, at, axis=1)
    return Sparse(np.where(value != 0.0, at, table.shape[1]), _frozen(value))


def _frozen(array: Floats) -> Floats:
    """Return the array, made read-only."""
    array.flags.writeable = False
    return array
