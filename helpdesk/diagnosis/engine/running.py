"""One run of the engine: the desk's values in, plain JSON-able values out.

The result holds everything a case page shows, names included, so that a stored run can be read
again when the knowledge has moved on.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from helpdesk.diagnosis.engine.advice import number_views, plan_data, questions_data, sets_data
from helpdesk.diagnosis.engine.catalogue import (
    action_info,
    fault_info,
    finding_info,
    list_danger_findings,
    risk_name,
)
from helpdesk.diagnosis.engine.facts import checks_data, facts_data
from helpdesk.diagnosis.engine.inputs import EngineInput, report_of, respondent_of
from helpdesk.diagnosis.engine.knowledge import get_engine
from helpdesk.diagnosis.engine.language import language_notes
from helpdesk.diagnosis.engine.words import ReadItem, lay_spans, list_items
from helpdesk.diagnosis.values import NumberView
from triage.diagnose import Diagnosis
from triage.evidence import Observation
from triage.explain import Absences, Change, Doubt, Explanation, FaultReasons, Reason, explain
from triage.knowledge import Knowledge

SHAPE = 2  # of the stored result; raised when a field changes its meaning
MOST_EXPLAINED = 6  # faults shown with their reasons [judgement: desk, 2026-11-25]
MOST_NAMED = 2  # weak absences named in one reason [judgement: desk, 2026-11-25]
LEAST_SHOWN = 0.05  # probability from which a fault is shown at once [judgement: desk, 2026-11-25]


@dataclass(frozen=True)
class EngineResult:
    """What the engine makes of it; `data` is plain JSON.

    `revision` is the number of the revision whose numbers it used, None for the expert's.
    """

    knowledge_version: str
    revision: int | None
    top_fault: str
    top_fault_name: str
    top_probability: float | None
    danger_names: tuple[str, ...]
    data: Mapping[str, Any]


def run_engine(given: EngineInput) -> EngineResult:
    """Return the engine's view of a case. Words it does not know are passed over."""
    engine = get_engine()
    diagnoser, knowledge = engine.diagnoser, engine.diagnoser.knowledge
    diagnosis = diagnoser.diagnose(report_of(diagnoser, given))
    ranked = [fault for fault in diagnosis.posterior.ranked if fault.probability > 0]
    shown = [f.id for f in ranked if f.probability >= LEAST_SHOWN][:MOST_EXPLAINED]
    shown = shown or [f.id for f in ranked[:3]]
    reasons = explain(knowledge, diagnosis.evidence, faults=shown, posterior=diagnosis.posterior)
    top = ranked[0] if ranked else None
    return EngineResult(
        knowledge_version=knowledge.version,
        revision=engine.revision,
        top_fault=top.id if top else "",
        top_fault_name=fault_info(top.id).name if top else "",
        top_probability=top.probability if top else None,
        danger_names=tuple(danger.name for danger in diagnosis.dangers),
        data=_data_of(given, knowledge, diagnosis, reasons),
    )


def weigh_numbers(given: EngineInput, fault: str) -> tuple[NumberView, ...]:
    """Return the numbers of the knowledge in force that a suspicion rests on most."""
    diagnoser = get_engine().diagnoser
    diagnosis = diagnoser.diagnose(report_of(diagnoser, given))
    return number_views(diagnoser.knowledge, diagnosis, fault)


def _data_of(
    given: EngineInput, knowledge: Knowledge, diagnosis: Diagnosis, reasons: Explanation
) -> dict[str, Any]:
    """Return everything the case page shows, as plain values."""
    items = list_items(
        diagnosis.reading,
        overruled=_overruled(diagnosis, given),
        misread=given.misread,
        noted=diagnosis.report.noted,
        raised={danger.id for danger in diagnosis.dangers},
    )
    spans, numbered = lay_spans(items, story_length=given.story_length)
    changer = reasons.would_change
    return {
        "shape": SHAPE,
        "process": diagnosis.evidence.process or "",
        "material": diagnosis.evidence.material or "",
        "machine": diagnosis.evidence.machine or "",
        "risks": list(diagnosis.evidence.risks),
        "ranking": [
            [fault.id, fault_info(fault.id).name, round(fault.probability, 6)]
            for fault in diagnosis.posterior.ranked
            if fault.probability > 0
        ],
        "suspects": _suspects(diagnosis, reasons, given),
        "findings": _findings(diagnosis, given, knowledge),
        "spans": spans,
        "readings": [_reading(item, number) for item, number in numbered],
        "sets": sets_data(knowledge, diagnosis),
        **questions_data(knowledge, diagnosis, respondent_of(given)),
        **plan_data(diagnosis.plan, diagnosis.posterior),
        "dangers": [
            {
                "id": danger.id,
                "name": danger.name,
                "say": danger.say,
                "quote": danger.quote or "",
                "findings": list(list_danger_findings(danger.id)),
            }
            for danger in diagnosis.dangers
        ],
        "facts": facts_data(
            diagnosis.reading.facts,
            misread=[name for kind, name in given.misread if kind == "fact"],
        ),
        "checks": checks_data(diagnosis.reading.facts),
        "notes": _notes(given, diagnosis),
        "would_change": finding_info(changer).question if changer else "",
        "changes": [_change(change) for change in reasons.changes],
        "doubts": [_doubt(doubt) for doubt in reasons.doubts],
        "fits": diagnosis.posterior.fit > 0 or not diagnosis.evidence.observations,
    }


def _notes(given: EngineInput, diagnosis: Diagnosis) -> list[str]:
    """Return what was passed over, and words of danger in languages that are not read."""
    notes = language_notes(given.text)
    if notes:
        notes += get_engine().diagnoser.reader.read(given.text).notes
    return list(dict.fromkeys([*notes, *diagnosis.reading.notes]))


def _overruled(diagnosis: Diagnosis, given: EngineInput) -> frozenset[str]:
    """Return the findings read in the words that somebody has judged otherwise since."""
    noted = {look.finding for look in diagnosis.report.noted}
    return (
        given.withdrawn
        | noted
        | {
            look.finding
            for look in diagnosis.reading.observations
            if given.marks.get(look.finding, look.state == "present") != (look.state == "present")
        }
    )


def _suspects(
    diagnosis: Diagnosis, explanation: Explanation, given: EngineInput
) -> list[dict[str, Any]]:
    """Return the faults shown with their reasons, best first."""
    found = []
    for entry in explanation.faults:
        info = fault_info(entry.fault)
        found.append(
            {
                "fault": info.id,
                "name": info.name,
                "sign": info.sign,
                "probability": round(diagnosis.posterior.probability(info.id), 6),
                "reasons": _reasons(entry, given),
                "prior_decibans": _finite(entry.prior_decibans),
                "posterior_decibans": _finite(entry.posterior_decibans),
                "together_decibans": round(entry.together_decibans, 1),
            }
        )
    return found


def _reasons(entry: FaultReasons, given: EngineInput) -> list[dict[str, Any]]:
    """Return the reasons for and against a fault in words, strongest first."""
    found = [_reason(reason, given) for reason in entry.reasons]
    found += [_absences(group) for group in entry.absences]
    found.sort(key=lambda reason: -abs(reason["decibans"]))
    return found


def _absences(group: Absences) -> dict[str, Any]:
    """Return findings that are not there as one reason, those that weigh most by name."""
    names = "; ".join(finding_info(name).name for name in group.findings[:MOST_NAMED])
    more = len(group.findings) - MOST_NAMED
    return {
        "finding": "",
        "kind": "absences",
        "state": "absent",
        "label": f"Not there: {names}" + (f"; and {more} more" if more > 0 else ""),
        "decibans": round(group.decibans, 1),
        "source": "",
    }


def _finite(decibans: float) -> float | None:
    """Return a weight to a tenth, None when certainty has made it infinite."""
    return round(decibans, 1) if math.isfinite(decibans) else None


def _change(change: Change) -> dict[str, Any]:
    """Return an answer that would put another fault first, in words."""
    return {
        "name": finding_info(change.finding).name,
        "answer": change.answer,
        "chance": round(change.chance, 4),
        "leader": fault_info(change.leader).name,
        "probability": round(change.probability, 4),
    }


def _doubt(doubt: Doubt) -> dict[str, Any]:
    """Return a finding, or what came of a remedy, that the lead rests on, in words."""
    if doubt.kind == "tried":
        result = {"no-change": "changed nothing", "cured": "cured it"}.get(doubt.state, "helped")
        name, answer = f"{action_info(doubt.id).name} {result}", "so"
    else:
        name, answer = finding_info(doubt.id).name, doubt.state
    return {
        "name": name,
        "answer": answer,
        "chance": round(doubt.chance, 4),
        "leader": fault_info(doubt.leader).name,
        "probability": round(doubt.probability, 4),
    }


def _reason(reason: Reason, given: EngineInput) -> dict[str, Any]:
    """Return one reason in words."""
    if reason.kind == "finding":
        label = finding_info(reason.id).name + ("" if reason.state == "present" else ": absent")
        source = given.mark_sources.get(reason.id, reason.source)
    elif reason.kind == "risk":
        label, source = risk_name(reason.id), "text"
    elif reason.kind == "tried":
        label, source = f"Tried: {action_info(reason.id).name}", "text"
    elif reason.kind == "silence":
        label, source = "What the report does not mention", "text"
    elif reason.kind == "text":
        label, source = "The wording of the report as a whole", "text"
    elif reason.kind == "material":
        label, source = f"Material: {reason.id}", "text"
    elif reason.kind == "machine":
        label, source = f"Kind of machine: {reason.id}", "text"
    else:
        label, source = f"Somebody’s guess: {fault_info(reason.id).name}", "text"
    return {
        "finding": reason.id,
        "kind": reason.kind,
        "state": reason.state,
        "label": label,
        "decibans": round(reason.decibans, 1),
        "source": source,
    }


def _findings(
    diagnosis: Diagnosis, given: EngineInput, knowledge: Knowledge
) -> list[dict[str, Any]]:
    """Return what is known of each finding, then the withdrawn ones as unknown."""
    seen: dict[str, dict[str, Any]] = {}
    for look in diagnosis.evidence.observations:
        seen.setdefault(look.finding, _finding(look, given))
    for name in sorted(given.withdrawn - seen.keys()):
        if name in knowledge.findings:
            seen[name] = _unknown(name, given.mark_sources.get(name, "reviewer"))
    return list(seen.values())


def _finding(look: Observation, given: EngineInput) -> dict[str, Any]:
    """Return one observation; a mark is certain, words only as sure as the reader is."""
    info = finding_info(look.finding)
    is_marked = look.finding in given.marks
    likely = max(look.if_present, look.if_absent) / (look.if_present + look.if_absent)
    return {
        "id": info.id,
        "name": info.name,
        "state": look.state,
        "source": given.mark_sources.get(info.id, "reviewer") if is_marked else "text",
        "quote": look.quote or "",
        "sureness": None if is_marked else round(likely, 2),
        "danger": info.danger,
    }


def _unknown(name: str, source: str) -> dict[str, Any]:
    info = finding_info(name)
    return {
        "id": name,
        "name": info.name,
        "state": "unknown",
        "source": source,
        "quote": "",
        "sureness": None,
        "danger": info.danger,
    }


def _reading(item: ReadItem, number: int) -> dict[str, Any]:
    """Return one line of what was read."""
    is_finding = item.kind in ("present", "absent")
    return {
        "number": number,
        "kind": item.kind,
        "label": item.label,
        "quote": item.quote,
        "is_in_story": number > 0,
        "finding": item.id if is_finding else "",
        "is_overruled": item.is_overruled,
        "about": item.about,
        "name": item.id,
    }
