"""Questions in the order in which they are worth asking."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

import numpy as np

from triage.evidence import Evidence
from triage.inference import AnswerEffects, Posterior
from triage.knowledge import Knowledge
from triage.previews import list_plausible_dangers, marginal_gains, preview_answers
from triage.questions._respondent import Respondent, unanswerable
from triage.questions._worth import KeptPlan, answer_values

Objective = Literal["repair-cost", "entropy"]
# A question that settles less than this is not worth a person's time [judgement: desk, 2026-11-25]
LEAST_GAIN_BITS = 1e-3
LEAST_MINUTES = 1e-9  # keeps what costs nothing to ask from a division by 0


@dataclass(frozen=True, slots=True)
class Question:
    """A finding worth asking about.

    Parameters
    ----------
    finding, question : str
    gain_minutes : float
        Expected value of the answer: minutes of the repair it saves by changing the plan.
    gain_bits : float
        Expected drop of the summed entropies of the faults.
    minutes : float
        Minutes of the person's time as the knowledge states them.
    asking_minutes : float
        What answering costs this person, tools and the like included, without the round trip.
    cost_minutes : float
        What asking it alone costs, with the round trip.
    needs : tuple of str
        Tools.
    present : float
        Probability of a "yes".
    pays : bool
        Whether it saves more than it costs, asked alone; a plausible danger always pays.
    danger : str or None
        The danger it would settle.
    is_urgent : bool
        Whether that danger is plausible and not raised yet: it comes before all else.
    objective : {"repair-cost", "entropy"}
        What it was ranked by.
    """

    finding: str
    question: str
    gain_minutes: float
    gain_bits: float
    minutes: float
    asking_minutes: float
    cost_minutes: float
    needs: tuple[str, ...]
    present: float
    pays: bool
    danger: str | None
    is_urgent: bool
    objective: Objective


def rank_questions(
    knowledge: Knowledge,
    evidence: Evidence,
    posterior: Posterior,
    *,
    exclude: Collection[str] = (),
    limit: int | None = None,
    effects: AnswerEffects | None = None,
    respondent: Respondent | None = None,
    objective: Objective = "repair-cost",
    is_priced: bool = True,
) -> tuple[Question, ...]:
    """Return the findings worth asking this person about, best first.

    A plausible danger comes before all else. Then, by "repair-cost", the expected value of the
    answer, in minutes of the repair, per minute of asking; what saves alike, such as nothing,
    by entropy. By "entropy" the expected drop of the *sum of the entropies of the single
    faults*, in bits, per minute of asking; the drop of the joint entropy, see
    `expected_joint_drop`, may prefer another question. Asking includes the round trip: each is
    ranked as if it were asked alone.

    What does not pay is listed too, as long as it tells something; `pays` says which do.

    Parameters
    ----------
    knowledge : Knowledge
    evidence : Evidence
    posterior : Posterior
        Of this evidence.
    exclude : collection of str
        Findings not to ask about, such as those asked before.
    limit : int, optional
        Return at most so many.
    effects : AnswerEffects, optional
        What `preview_answers` gave for this evidence, when it is at hand: its findings are
        those considered.
    respondent : Respondent, optional
        Who would be asked; the usual person when left out.
    objective : {"repair-cost", "entropy"}
    is_priced : bool
        When False no answer is priced: for many reports at once, ranked by entropy. All
        `gain_minutes` are then 0.

    Returns
    -------
    tuple of Question

    Notes
    -----
    Source: [heckerman1995], [sacso2000].
    """
    person = respondent or Respondent(process=evidence.process)
    blocked = {*exclude, *unanswerable(knowledge, person)}
    if effects is None:
        effects = preview_answers(knowledge, evidence, posterior, exclude=blocked)
    effects = effects.only([at for at, name in enumerate(effects.findings) if name not in blocked])
    urgent = list_plausible_dangers(knowledge, evidence, posterior)
    gains = np.zeros(len(effects.findings))
    if is_priced:
        plan = KeptPlan.of(knowledge, posterior, evidence)
        gains = answer_values(knowledge, plan, effects.findings)
    ranked = []
    for name, saved, bits, present in zip(
        effects.findings,
        gains.tolist(),
        marginal_gains(effects).tolist(),
        effects.present.tolist(),
        strict=True,
    ):
        finding = knowledge.findings[name]
        own = person.own_minutes(finding)
        cost = own + person.round_trip_minutes
        pays = saved > cost or name in urgent
        if bits < LEAST_GAIN_BITS and not pays:
            continue
        ranked.append(
            Question(
                finding=name,
                question=finding.question,
                gain_minutes=saved,
                gain_bits=bits,
                minutes=finding.minutes,
                asking_minutes=own,
                cost_minutes=cost,
                needs=finding.needs,
                present=present,
                pays=pays,
                danger=finding.danger,
                is_urgent=name in urgent,
                objective=objective,
            )
        )
    ranked.sort(key=_rank)
    return tuple(ranked[:limit])


def _rank(question: Question) -> tuple[float, ...]:
    """Return what sorts the best question first."""
    minutes = max(question.cost_minutes, LEAST_MINUTES)
    bits = question.gain_bits / minutes
    if question.objective == "entropy":
        return (-float(question.is_urgent), -bits)
    # Tenths of a minute: what saves alike but for rounding is told apart by entropy.
    return (-float(question.is_urgent), -round(question.gain_minutes, 1) / minutes, -bits)
