"""Why a fault is suspected, what would change it, and which numbers of the knowledge matter."""

from triage.explain._changes import SLIP, Change, Doubt
from triage.explain._reasons import (
    LEAST_DECIBANS,
    WEAK_DECIBANS,
    Absences,
    Explanation,
    FaultReasons,
    Reason,
    explain,
)
from triage.explain._sensitivity import Sensitivity, rank_sensitivities

__all__ = [
    "LEAST_DECIBANS",
    "SLIP",
    "WEAK_DECIBANS",
    "Absences",
    "Change",
    "Doubt",
    "Explanation",
    "FaultReasons",
    "Reason",
    "Sensitivity",
    "explain",
    "rank_sensitivities",
]
