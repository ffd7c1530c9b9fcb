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
from triage.inference._slopes import Slope, list_slopes
from triage.inference._variants import Opposite, Piece, Variants, compute_variants

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
    "Opposite",
    "Piece",
    "Posterior",
    "RankedFault",
    "Slope",
    "Variants",
    "compute_answer_effects",
    "compute_joint",
    "compute_posterior",
    "compute_variants",
    "list_explanations",
    "list_fault_sets",
    "list_slopes",
    "update_posterior",
]
