"""What an answer is worth: the minutes it saves by changing the plan.

An answer that changes no step is worth nothing, however much it tells. Its value is the expected
cost, under the belief after the answer, of carrying on with the plan as it is, less that of the
best plan for this belief. The mean over the answers is the expected value of information, and no
answer counts below 0: nobody has to change a plan.

The difference of the plan's price before and after would be the same under the exact joint
belief. Under any belief that leaves dependence between faults out it also counts how the price
errs; what carrying on costs errs alike, so that the error falls out.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triage.evidence import Evidence
from triage.inference import Posterior
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats
from triage.repair import (
    Belief,
    Joint,
    Remedies,
    find_order,
    open_remedies,
    price_beliefs,
    promising,
)

LOOK_AHEAD = 8  # remedies of the plan that is kept; as many are looked at when a belief is priced
# Faults with a part of their own in the belief: 8 find the best question hardly more often and
# take half as long again [judgement: desk, 2026-11-25]
PARTS = 4
_TINY = 1e-300  # keeps a division by a probability of 0 from failing; its result has weight 0


@dataclass(frozen=True, slots=True, eq=False)
class States:
    """Many states of belief, each a mixture of parts inside which faults are independent.

    `weight`, shape (states, parts), and `chances`, shape (states, parts, faults), are as in
    `Belief`.
    """

    weight: Floats
    chances: Floats


@dataclass(frozen=True, slots=True, eq=False)
class KeptPlan:
    """The plan as it stands, to be priced under other beliefs.

    `belief` is the belief it was made with; `rest`, shape (steps + 1, faults), is the probability
    that each fault outlasts so many steps; `cost`, shape (steps,), is that of the steps.
    """

    remedies: Remedies
    belief: Belief
    rest: Floats
    cost: Floats

    @classmethod
    def of(cls, knowledge: Knowledge, posterior: Posterior, evidence: Evidence) -> "KeptPlan":
        """Return the plan for a case as it is now."""
        remedies = open_remedies(knowledge, posterior, evidence)
        belief = Joint.of(posterior).split(most=PARTS)
        looked_at = promising(remedies, belief.marginal())
        order = find_order(
            belief,
            remedies.trials.only(looked_at),
            last_resort=remedies.last_resort,
            limit=LOOK_AHEAD,
        )
        places = looked_at[list(order.places)]
        cure = remedies.trials.cure[places]
        rest = np.vstack((np.ones((1, cure.shape[1])), np.cumprod(1.0 - cure, axis=0)))
        return cls(remedies, belief, rest, remedies.trials.cost[places])

    def price(self, states: States) -> Floats:
        """Return what carrying on costs under each belief, minutes, shape (states,)."""
        touched = np.flatnonzero((self.rest < 1.0).any(axis=0))
        loss = 1.0 - self.rest[:, touched]
        outlasts = (1.0 - states.chances[:, :, None, touched] * loss).prod(axis=3)
        failing = np.einsum("sp,spl->sl", states.weight, outlasts)
        return np.asarray(failing[:, :-1] @ self.cost + failing[:, -1] * self.remedies.last_resort)

    def saved(self, states: States) -> Floats:
        """Return what the best plan for each belief saves against carrying on, 0 or more."""
        best = price_beliefs(self.remedies, states.chances, states.weight)
        return np.maximum(self.price(states) - best, 0.0)


def answer_values(knowledge: Knowledge, plan: KeptPlan, findings: Sequence[str]) -> Floats:
    """Return the expected value of the answer to each question, in minutes of the repair.

    Parameters
    ----------
    knowledge : Knowledge
    plan : KeptPlan
        The plan without any answer.
    findings : sequence of str, shape (questions,)
        Findings not observed yet.

    Returns
    -------
    array, shape (questions,)
        0 or more; 0 for a finding no possible fault is linked to.

    Notes
    -----
    Source: [heckerman1995], [sacso2000].
    """
    if not findings:
        return np.zeros(0)
    columns = [knowledge.network.finding_at[name] for name in findings]
    leak, link = knowledge.network.leak[columns], knowledge.network.link[:, columns].T
    present, states = _after_answers(plan.belief, leak, link)
    saved = plan.saved(states)
    already, if_present, if_absent = saved[0], saved[1 : len(columns) + 1], saved[-len(columns) :]
    # What another plan would save even without an answer is no merit of the question.
    mean = present * if_present + (1.0 - present) * if_absent - already
    linked = (link * plan.belief.chances.max(axis=0)).any(axis=1)
    return np.where(linked, np.maximum(mean, 0.0), 0.0)


def _after_answers(belief: Belief, leak: Floats, link: Floats) -> tuple[Floats, States]:
    """Return the chance of each "yes", and the beliefs now, after each "yes", after each "no".

    Inside a part faults are independent, and taken as such after the answer too.

    Parameters
    ----------
    belief : Belief
    leak : array, shape (questions,)
    link : array, shape (questions, faults)

    Returns
    -------
    present : array, shape (questions,)
    states : States
        1 + 2 · questions states.
    """
    there = belief.chances * (1.0 - link)[:, None, :]
    outlasts = 1.0 - belief.chances + there
    no = (1.0 - leak)[:, None] * belief.weight * outlasts.prod(axis=2)
    if_absent = there / np.maximum(outlasts, _TINY)
    yes = np.maximum(belief.weight - no, 0.0)
    joint = belief.weight[:, None] * belief.chances - no[..., None] * if_absent
    if_present = np.clip(joint / np.maximum(yes, _TINY)[..., None], 0.0, 1.0)
    present = yes.sum(axis=1)
    absent = no.sum(axis=1)
    weight = np.concatenate(
        (
            belief.weight[None],
            yes / np.maximum(present, _TINY)[:, None],
            no / np.maximum(absent, _TINY)[:, None],
        )
    )
    return present, States(weight, np.concatenate((belief.chances[None], if_present, if_absent)))
