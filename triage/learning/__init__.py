"""Learning: settled cases to counts, counts to a revision of the expert's numbers."""

from triage.learning._beta import EVEN_LOOKS, PUBLISHED_LOOKS, Beta, expert_beta
from triage.learning._counts import Counts, Tally
from triage.learning._credit import learn
from triage.learning._lessons import BASIS_WEIGHT, INDEPENDENT, Basis, Lesson, Skipped
from triage.learning._numbers import BOUNDS, Number, Stated, list_numbers
from triage.learning._prequential import (
    Foreseen,
    Loss,
    Prequential,
    score_forecast,
    score_lesson,
    score_prequential,
)
from triage.learning._revision import NumberChange, compare, revise
from triage.learning._surprises import Surprise, chance_of_at_least, list_surprises

__all__ = [
    "BASIS_WEIGHT",
    "BOUNDS",
    "EVEN_LOOKS",
    "INDEPENDENT",
    "PUBLISHED_LOOKS",
    "Basis",
    "Beta",
    "Counts",
    "Foreseen",
    "Lesson",
    "Loss",
    "Number",
    "NumberChange",
    "Prequential",
    "Skipped",
    "Stated",
    "Surprise",
    "Tally",
    "chance_of_at_least",
    "compare",
    "expert_beta",
    "learn",
    "list_numbers",
    "list_surprises",
    "revise",
    "score_forecast",
    "score_lesson",
    "score_prequential",
]
