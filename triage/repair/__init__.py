"""In which order to do what: safety first, then what costs least on average.

Two models stand here side by side. The textbook one knows exactly one cause and actions that
do not overlap; its order is success over cost. A real case may have several faults and
remedies that cure more than one, so `plan_repair` re-computes after each failure, with the
faults taken as independent given the evidence. Neither is optimal when actions overlap: the
general task is NP-complete.
"""

from triage.repair._plan import (
    LAST_RESORT_MINUTES,
    MONEY_MINUTES,
    SUSPECTED,
    WAIT_SHARE,
    Plan,
    Step,
    plan_repair,
)
from triage.repair._sequences import (
    expected_cost,
    expected_sequence_cost,
    order_by_ratio,
    order_recomputed,
)

__all__ = [
    "LAST_RESORT_MINUTES",
    "MONEY_MINUTES",
    "SUSPECTED",
    "WAIT_SHARE",
    "Plan",
    "Step",
    "expected_cost",
    "expected_sequence_cost",
    "order_by_ratio",
    "order_recomputed",
    "plan_repair",
]
