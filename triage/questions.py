"""Which question to ask next."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from triage.evidence import Evidence
from triage.inference import AnswerEffects, Posterior, compute_joint, list_fault_sets
from triage.knowledge import Knowledge
from triage.previews import asking_minutes, entropy_bits, marginal_gains, preview_answers

# A question that settles less than this is not worth a person's time [judgement: desk, 2026-11-25]
LEAST_GAIN_BITS = 1e-3


@dataclass(frozen=True, slots=True)
class Question:
    """A finding worth asking about.

    `gain_bits` is the expected drop of the summed entropies of the faults, `minutes` the
    person's time, `needs` the tools, `present` the probability of a "yes".
    """

    finding: str
    question: str
    gain_bits: float
    minutes: float
    needs: tuple[str, ...]
    present: float


def rank_questions(
    knowledge: Knowledge,
    evidence: Evidence,
    posterior: Posterior,
    *,
    exclude: Collection[str] = (),
    limit: int | None = None,
    effects: AnswerEffects | None = None,
) -> tuple[Question, ...]:
    """Return the findings worth asking about, best first.

    The objective is the expected drop of the *sum of the entropies of the single faults*, in
    bits, per minute of the person's time (`TOOL_MINUTES` more for each tool). The drop of the
    joint entropy, see `expected_joint_drop`, may prefer another question.

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
        What `preview_answers` gave for this evidence, when it is at hand.

    Returns
    -------
    tuple of Question
    """
    if effects is None:
        effects = preview_answers(knowledge, evidence, posterior, exclude=exclude)
    ranked = [
        Question(
            finding=finding,
            question=knowledge.findings[finding].question,
            gain_bits=gain,
            minutes=knowledge.findings[finding].minutes,
            needs=knowledge.findings[finding].needs,
            present=present,
        )
        for finding, gain, present in zip(
            effects.findings,
            marginal_gains(effects).tolist(),
            effects.present.tolist(),
            strict=True,
        )
        if gain >= LEAST_GAIN_BITS and finding not in exclude
    ]
    ranked.sort(key=lambda item: -item.gain_bits / asking_minutes(knowledge, item.finding))
    return tuple(ranked[:limit])


def expected_joint_drop(knowledge: Knowledge, evidence: Evidence, finding: str) -> float:
    """Return the expected drop of the *joint* entropy of the faults from one question, bits.

    For small networks: it lists all sets of faults.

    Parameters
    ----------
    knowledge : Knowledge
        With at most 16 faults.
    evidence : Evidence
    finding : str
        Finding not observed yet.

    Returns
    -------
    float
        The mutual information of the finding and the set of faults; 0 or more.
    """
    network = knowledge.network
    joint = compute_joint(knowledge, evidence)
    at = network.finding_at[finding]
    sets = list_fault_sets(knowledge)
    absent = (1.0 - network.leak[at]) * np.where(sets, 1.0 - network.link[:, at], 1.0).prod(axis=1)
    answer = entropy_bits(np.array([float(joint @ absent)]))[0]
    return float(answer - joint @ entropy_bits(absent))


def joint_entropy_bits(knowledge: Knowledge, evidence: Evidence) -> float:
    """Return the joint entropy of the faults in bits, listing all sets of at most 16 faults."""
    joint = compute_joint(knowledge, evidence)
    some = joint[joint > 0.0]
    return float(-(some * np.log2(some)).sum())
