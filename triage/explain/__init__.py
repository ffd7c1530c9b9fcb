"""Why a fault is suspected, what would change it, and which numbers of the knowledge matter."""

from triage.explain._reasons import (
    LEAST_DECIBANS,
    Change,
    Doubt,
    Explanation,
    FaultReasons,
    Reason,
    explain,
)
from triage.explain._sensitivity import Sensitivity, rank_sensitivities

__all__ = [
    "LEAST_DECIBANS",
    "Change",
    "Doubt",
    "Explanation",
    "FaultReasons",
    "Reason",
    "Sensitivity",
    "explain",
    "rank_sensitivities",
]
