"""Evidence to posterior: exact inference in the two-layer noisy-OR network."""

from triage.inference._case import GUESS_ODDS, HELPED, LUCK, Dropped
from triage.inference._fault_sets import MOST_SETS, FaultSet, FaultSets, list_explanations
from triage.inference._hypothesis import MAX_WIDTH, PROCESS_PRIOR
from triage.inference._joint import compute_joint, list_fault_sets
from triage.inference._posterior import (
    AnswerEffects,
    Posterior,
    RankedFault,
    compute_answer_effects,
    compute_posterior,
    update_posterior,
)

__all__ = [
    "GUESS_ODDS",
    "HELPED",
    "LUCK",
    "MAX_WIDTH",
    "MOST_SETS",
    "PROCESS_PRIOR",
    "AnswerEffects",
    "Dropped",
    "FaultSet",
    "FaultSets",
    "Posterior",
    "RankedFault",
    "compute_answer_effects",
    "compute_joint",
    "compute_posterior",
    "list_explanations",
    "list_fault_sets",
    "update_posterior",
]
