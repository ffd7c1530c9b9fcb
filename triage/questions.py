"""Which question to ask next."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from triage.evidence import Evidence
from triage.inference import (
    AnswerEffects,
    Posterior,
    compute_answer_effects,
    compute_joint,
    list_fault_sets,
)
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats

# Minutes to find a tool, beside the minutes of the question [judgement: desk, 2026-11-25]
TOOL_MINUTES = 3.0
# A question that settles less than this is not worth a person's time [judgement: desk, 2026-11-25]
LEAST_GAIN_BITS = 1e-3
# A process less probable than this is not asked about [judgement: desk, 2026-11-25]
LEAST_PROCESS = 0.05
# How many candidates are summed: MOST_CANDIDATES, in wide cases as many as keep one state of
# the batch within BATCH_CELLS numbers, but never fewer than LEAST_CANDIDATES. An ordinary case
# then takes a millisecond, the widest half a second.
MOST_CANDIDATES = 40
BATCH_CELLS = 16384
LEAST_CANDIDATES = 4


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
    ranked.sort(key=lambda item: -item.gain_bits / _asking_minutes(knowledge, item.finding))
    return tuple(ranked[:limit])


def preview_answers(
    knowledge: Knowledge,
    evidence: Evidence,
    posterior: Posterior,
    *,
    exclude: Collection[str] = (),
) -> AnswerEffects:
    """Return what the answers to the most promising questions would do.

    All candidates are summed in one batch. Where that batch would be too large, because many
    findings are present, the candidates are first screened by the gain a minute they would
    have if the faults were independent, and only the best of the screen are summed.

    Parameters
    ----------
    knowledge, evidence, posterior, exclude
        As for `rank_questions`.

    Returns
    -------
    AnswerEffects
    """
    candidates = list_candidates(knowledge, evidence, posterior, exclude=exclude)
    room = _room(posterior)
    if len(candidates) > room:
        screen = screen_gains(knowledge, posterior, candidates)
        screen /= [_asking_minutes(knowledge, finding) for finding in candidates]
        best = np.sort(np.argsort(-screen, kind="stable")[:room])
        candidates = [candidates[at] for at in best]
    return compute_answer_effects(knowledge, posterior, candidates)


def list_candidates(
    knowledge: Knowledge,
    evidence: Evidence,
    posterior: Posterior,
    *,
    exclude: Collection[str] = (),
) -> list[str]:
    """Return the findings not observed yet that a fault of a likely process is linked to."""
    network = knowledge.network
    seen = {observation.finding for observation in evidence.observations}
    chances = np.array([*posterior.chances.values(), 0.0])
    worth = chances[network.causes.at].sum(axis=1) > 0.0
    shown = [
        network.shows[process]
        for process, chance in posterior.processes.items()
        if chance >= LEAST_PROCESS
    ]
    worth &= np.sum(shown, axis=0) > 0
    names = (network.finding_ids[at] for at in np.flatnonzero(worth))
    return [name for name in names if name not in seen and name not in exclude]


def screen_gains(knowledge: Knowledge, posterior: Posterior, candidates: Sequence[str]) -> Floats:
    """Return the gain of each candidate as if the faults were independent, bits.

    Parameters
    ----------
    knowledge, posterior
    candidates : sequence of str
        One or more, each with a fault linked to it.

    Returns
    -------
    array, shape (candidates,)
    """
    network = knowledge.network
    columns = [network.finding_at[name] for name in candidates]
    # A fault that is not linked keeps its probability, so only the links count: one row each.
    filled = network.causes.value[columns] > 0.0
    starts = np.concatenate(([0], filled.sum(axis=1).cumsum()[:-1]))
    question = np.repeat(np.arange(len(columns)), filled.sum(axis=1))
    link = network.causes.value[columns][filled]
    now = np.array(list(posterior.chances.values()))[network.causes.at[columns][filled]]
    kept = 1.0 - link * now
    absent = (1.0 - network.leak[columns]) * np.multiply.reduceat(kept, starts)
    joint = absent[question] * now * (1.0 - link) / np.maximum(kept, 1e-300)
    if_absent = joint / np.maximum(absent, 1e-300)[question]
    if_present = (now - joint) / np.maximum(1.0 - absent, 1e-300)[question]
    before, yes, no = entropy_bits(np.stack((now, np.clip(if_present, 0.0, 1.0), if_absent)))
    drop = before - (1.0 - absent)[question] * yes - absent[question] * no
    return np.asarray(np.add.reduceat(drop, starts))


def marginal_gains(effects: AnswerEffects) -> Floats:
    """Return the expected drop of the summed entropies of the faults for each question, bits.

    Returns
    -------
    array, shape (questions,)
        Never below 0 but for rounding.
    """
    after = effects.present * np.nan_to_num(entropy_bits(effects.if_present).sum(axis=1))
    after += (1.0 - effects.present) * np.nan_to_num(entropy_bits(effects.if_absent).sum(axis=1))
    return np.asarray(entropy_bits(effects.now).sum() - after)


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


def entropy_bits(chance: Floats) -> Floats:
    """Return the entropy of a yes/no variable in bits, for each probability."""
    inside = np.clip(chance, 1e-300, 1.0)
    outside = np.clip(1.0 - chance, 1e-300, 1.0)
    return np.asarray(-inside * np.log2(inside) - outside * np.log2(outside))


def _asking_minutes(knowledge: Knowledge, finding: str) -> float:
    """Return the person's minutes for a question, with the time to find the tools."""
    entry = knowledge.findings[finding]
    return entry.minutes + TOOL_MINUTES * len(entry.needs)


def _room(posterior: Posterior) -> int:
    """Return how many candidates fit into one batch."""
    width = max(hypothesis.plan.width for hypothesis in posterior.hypotheses)
    return max(min(MOST_CANDIDATES, BATCH_CELLS >> width), LEAST_CANDIDATES)
