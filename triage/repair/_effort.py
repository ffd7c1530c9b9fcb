"""What an action costs, and what is left when all remedies fail."""

from collections.abc import Iterable, Mapping

import numpy as np

from triage.knowledge import Action
from triage.knowledge._model import Floats

WAIT_SHARE = 0.1  # of a minute's waiting, in hands-on minutes [judgement: desk, 2026-11-25]
MONEY_MINUTES = 5.0  # hands-on minutes per unit of money [judgement: desk, 2026-11-25]
EFFORT_MINUTES = np.array((1.0, WAIT_SHARE, MONEY_MINUTES))  # of the effort table's columns
# Taking the printer to somebody who puts it right or replaces it: an hour, most of a day and a
# fee. The knowledge may hold a better one [judgement: desk, 2026-11-25]
HAND_OVER = Action(
    id="hand-over",
    kind="last-resort",
    process="any",
    name="Hand the printer over, or replace it",
    how="Take the printer to somebody who repairs it for you, or replace it.",
    minutes=60.0,
    wait_minutes=1200.0,
    money=60.0,
    source="memory",
)
# A last resort meant for some faults is taken when one of them is at least this probable
# [judgement: desk, 2026-11-25]
LIKELY = 0.5


def effort_of(action: Action) -> Floats:
    """Return hands-on minutes, minutes of waiting and money, shape (3,)."""
    return np.array((action.minutes, action.wait_minutes, action.money))


def cost_of(action: Action) -> float:
    """Return what an action costs, in hands-on minutes."""
    return float(effort_of(action) @ EFFORT_MINUTES)


LAST_RESORT_MINUTES = cost_of(HAND_OVER)  # 480, the price of not being cured


def choose_last_resort(actions: Iterable[Action], chances: Mapping[str, float]) -> Action:
    """Return the cheapest last resort that fits, `HAND_OVER` when the knowledge has none.

    Parameters
    ----------
    actions : iterable of Action
        Last resorts of the process.
    chances : mapping of str to float
        Probability of each fault; a last resort with faults of its own fits when one of them
        reaches `LIKELY`.

    Returns
    -------
    Action
    """
    fitting = [
        action
        for action in actions
        if not action.faults or max(chances[fault] for fault in action.faults) >= LIKELY
    ]
    return min(fitting, key=cost_of, default=HAND_OVER)
