"""The adapter to the engine: the only part of the desk's apps that knows `triage`."""

from helpdesk.diagnosis.engine.catalogue import (
    ActionInfo,
    CautionInfo,
    DangerInfo,
    FaultInfo,
    FindingInfo,
    action_info,
    caution_info,
    danger_info,
    fault_info,
    finding_info,
    knowledge_version,
    list_actions,
    list_faults,
    list_findings,
    risk_name,
)
from helpdesk.diagnosis.engine.running import EngineInput, EngineResult, run_engine

__all__ = [
    "ActionInfo",
    "CautionInfo",
    "DangerInfo",
    "EngineInput",
    "EngineResult",
    "FaultInfo",
    "FindingInfo",
    "action_info",
    "caution_info",
    "danger_info",
    "fault_info",
    "finding_info",
    "knowledge_version",
    "list_actions",
    "list_faults",
    "list_findings",
    "risk_name",
    "run_engine",
]
