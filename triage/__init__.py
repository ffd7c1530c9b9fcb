"""The engine: from a report of a failed print to faults, questions and a plan.

Plain Python and NumPy. It takes values and returns values: no network, no clock, no database,
no chance and no state kept between calls.
"""

from triage.diagnose import Diagnoser, Diagnosis, RaisedDanger, ReportInput
from triage.errors import (
    ImpossibleEvidenceError,
    InputError,
    KnowledgeError,
    OutOfRangeError,
    Problem,
    TriageError,
    UnknownIdError,
)
from triage.evidence import Evidence, Guess, Observation, TriedRemedy
from triage.explain import Explanation, FaultReasons, Reason, explain
from triage.inference import (
    Dropped,
    FaultSet,
    FaultSets,
    Posterior,
    RankedFault,
    compute_posterior,
    list_explanations,
    update_posterior,
)
from triage.knowledge import Knowledge, build_knowledge, check_knowledge, load_knowledge
from triage.questions import Question, rank_questions
from triage.reading import Reader, Reading, read_text
from triage.repair import Plan, Step, expected_cost, order_by_ratio, plan_repair

__all__ = [
    "Diagnoser",
    "Diagnosis",
    "Dropped",
    "Evidence",
    "Explanation",
    "FaultReasons",
    "FaultSet",
    "FaultSets",
    "Guess",
    "ImpossibleEvidenceError",
    "InputError",
    "Knowledge",
    "KnowledgeError",
    "Observation",
    "OutOfRangeError",
    "Plan",
    "Posterior",
    "Problem",
    "Question",
    "RaisedDanger",
    "RankedFault",
    "Reader",
    "Reading",
    "Reason",
    "ReportInput",
    "Step",
    "TriageError",
    "TriedRemedy",
    "UnknownIdError",
    "build_knowledge",
    "check_knowledge",
    "compute_posterior",
    "expected_cost",
    "explain",
    "list_explanations",
    "load_knowledge",
    "order_by_ratio",
    "plan_repair",
    "rank_questions",
    "read_text",
    "update_posterior",
]
