"""What an answer is worth: the minutes it saves by changing the plan.

An answer that changes no step is worth nothing, however much it tells. Its value is the expected
cost, under the belief after the answer, of carrying on with the plan as it is, less that of the
best plan for this belief. The mean over the answers is the expected value of information, and no
answer counts below 0: nobody has to change a plan.
"""

from dataclasses import dataclass

import numpy as np

from triage.evidence import Evidence
from triage.inference import AnswerEffects, Posterior
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats
from triage.repair import (
    Remedies,
    as_independent,
    find_order,
    open_remedies,
    price_beliefs,
    promising,
)

LOOK_AHEAD = 8  # remedies of the plan that is kept; as many are looked at when a belief is priced


@dataclass(frozen=True, slots=True, eq=False)
class KeptPlan:
    """The plan as it stands, to be priced under other beliefs.

    `rest`, shape (steps + 1, faults), is the probability that each fault outlasts so many
    steps; `cost`, shape (steps,), is that of the steps.
    """

    remedies: Remedies
    rest: Floats
    cost: Floats

    @classmethod
    def of(cls, knowledge: Knowledge, posterior: Posterior, evidence: Evidence) -> "KeptPlan":
        """Return the plan for a case as it is now."""
        remedies = open_remedies(knowledge, posterior, evidence)
        now = np.array(list(posterior.chances.values()))
        looked_at = promising(remedies, now)
        order = find_order(
            as_independent(now),
            remedies.trials.only(looked_at),
            last_resort=remedies.last_resort,
            limit=LOOK_AHEAD,
        )
        places = looked_at[list(order.places)]
        cure = remedies.trials.cure[places]
        rest = np.vstack((np.ones((1, cure.shape[1])), np.cumprod(1.0 - cure, axis=0)))
        return cls(remedies, rest, remedies.trials.cost[places])

    def price(self, states: Floats) -> Floats:
        """Return what carrying on costs under each belief, minutes.

        Parameters
        ----------
        states : array, shape (states, faults)
            Probability of each fault, taken as independent.

        Returns
        -------
        array, shape (states,)
        """
        touched = np.flatnonzero((self.rest < 1.0).any(axis=0))
        loss = 1.0 - self.rest[None, :, touched]
        failing = (1.0 - states[:, None, touched] * loss).prod(axis=2)
        return np.asarray(failing[:, :-1] @ self.cost + failing[:, -1] * self.remedies.last_resort)

    def saved(self, states: Floats) -> Floats:
        """Return what the best plan for each belief saves against carrying on, 0 or more."""
        return np.maximum(self.price(states) - price_beliefs(self.remedies, states), 0.0)


def answer_values(plan: KeptPlan, effects: AnswerEffects) -> Floats:
    """Return the expected value of each answer, in minutes of the repair.

    Parameters
    ----------
    plan : KeptPlan
        The plan without any answer.
    effects : AnswerEffects

    Returns
    -------
    array, shape (questions,)
        0 or more.
    """
    count = len(effects.findings)
    if not count:
        return np.zeros(0)
    states = np.nan_to_num(np.vstack((effects.if_present, effects.if_absent)))
    # What carrying on would save even without an answer is no merit of the question.
    already = float(plan.saved(effects.now[None])[0])
    saved = plan.saved(states)
    mean = effects.present * saved[:count] + (1.0 - effects.present) * saved[count:]
    return np.maximum(mean - already, 0.0)
