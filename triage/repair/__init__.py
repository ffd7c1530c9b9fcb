"""In which order to do what: safety first, then what costs least on average.

Two models stand here side by side. The textbook one knows exactly one cause and actions that
do not overlap; its order is success over cost. A real case may have several faults and
remedies that cure more than one: `find_order` searches sets of remedies, exactly while they are
few, and `plan_repair` adds safety steps, the check that pays and the last resort.
"""

from triage.repair._belief import Belief, Failing, Joint, as_independent, as_one_cause
from triage.repair._effort import (
    HAND_OVER,
    LAST_RESORT_MINUTES,
    MONEY_MINUTES,
    WAIT_SHARE,
    cost_of,
)
from triage.repair._order import (
    Order,
    Trials,
    evaluate_order,
    find_order,
    make_trials,
    quick_order,
    ratio_order,
)
from triage.repair._plan import SUSPECTED, Fork, Plan, Step, plan_repair
from triage.repair._price import Remedies, open_remedies, price_beliefs, promising
from triage.repair._sequences import (
    expected_cost,
    expected_sequence_cost,
    order_by_ratio,
    order_recomputed,
)

__all__ = [
    "HAND_OVER",
    "LAST_RESORT_MINUTES",
    "MONEY_MINUTES",
    "SUSPECTED",
    "WAIT_SHARE",
    "Belief",
    "Failing",
    "Fork",
    "Joint",
    "Order",
    "Plan",
    "Remedies",
    "Step",
    "Trials",
    "as_independent",
    "as_one_cause",
    "cost_of",
    "evaluate_order",
    "expected_cost",
    "expected_sequence_cost",
    "find_order",
    "make_trials",
    "open_remedies",
    "order_by_ratio",
    "order_recomputed",
    "plan_repair",
    "price_beliefs",
    "promising",
    "quick_order",
    "ratio_order",
]
