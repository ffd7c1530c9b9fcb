"""What the answers to the most promising questions would do to the belief.

Both the next question and the checks of a plan are chosen from these previews.
"""

from collections.abc import Collection, Sequence

import numpy as np

from triage.evidence import Evidence
from triage.inference import AnswerEffects, Posterior, compute_answer_effects
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats

# Minutes to find a tool, beside the minutes of the question [judgement: desk, 2026-11-25]
TOOL_MINUTES = 3.0
# Writing a question, waiting for the reply and reading it, in hands-on minutes; all questions of
# one letter share it [judgement: desk, 2026-11-25]
ROUND_TRIP_MINUTES = 10.0
# A process less probable than this is not asked about [judgement: desk, 2026-11-25]
LEAST_PROCESS = 0.05
# A link from a fault to a dangerous finding that makes the fault itself dangerous
# [judgement: desk, 2026-11-25]
DANGEROUS_LINK = 0.3
# A dangerous fault this probable is asked about before all else [judgement: desk, 2026-11-25]
PLAUSIBLE_DANGER = 0.05
# How many candidates are summed: MOST_CANDIDATES, in wide cases as many as keep one state of
# the batch within BATCH_CELLS numbers, but never fewer than LEAST_CANDIDATES. Of drawn cases with
# a question that pays, it is among MOST_CANDIDATES in 99 of 100; a test holds that.
MOST_CANDIDATES = 40
BATCH_CELLS = 1 << 18
LEAST_CANDIDATES = 4


def preview_answers(
    knowledge: Knowledge,
    evidence: Evidence,
    posterior: Posterior,
    *,
    exclude: Collection[str] = (),
) -> AnswerEffects:
    """Return what the answers to the most promising questions would do.

    At most `MOST_CANDIDATES` are summed, in one batch; fewer where it would be too large, because
    many findings are present. They are chosen by the gain they would have if the faults were
    independent, per minute of asking with its round trip. Plausible dangers are always among
    them.

    Parameters
    ----------
    knowledge : Knowledge
    evidence : Evidence
    posterior : Posterior
        Of this evidence.
    exclude : collection of str
        Findings not to ask about, such as those asked before.

    Returns
    -------
    AnswerEffects
    """
    candidates = list_candidates(knowledge, evidence, posterior, exclude=exclude)
    room = _room(posterior)
    if len(candidates) > room:
        screen = screen_gains(knowledge, posterior, candidates)
        screen /= [
            asking_minutes(knowledge, finding) + ROUND_TRIP_MINUTES for finding in candidates
        ]
        screen[np.isin(candidates, list_plausible_dangers(knowledge, evidence, posterior))] = np.inf
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


def list_plausible_dangers(
    knowledge: Knowledge, evidence: Evidence, posterior: Posterior
) -> list[str]:
    """Return the dangerous findings that a plausible fault would show, likeliest first.

    A danger that is raised already, by a finding that is present, needs no question.

    Parameters
    ----------
    knowledge, evidence, posterior

    Returns
    -------
    list of str
        Findings with a danger, linked by `DANGEROUS_LINK` or more to a fault of probability
        `PLAUSIBLE_DANGER` or more.
    """
    network = knowledge.network
    raised = {
        knowledge.findings[seen.finding].danger
        for seen in evidence.observations
        if seen.if_present > seen.if_absent
    }
    chances = np.array(list(posterior.chances.values()))
    columns = [at for at, danger in network.dangerous.items() if danger not in raised]
    shown = network.link[:, columns] >= DANGEROUS_LINK
    likeliest = np.where(shown, chances[:, None], 0.0).max(axis=0, initial=0.0)
    order = np.argsort(-likeliest, kind="stable")
    return [network.finding_ids[columns[at]] for at in order if likeliest[at] >= PLAUSIBLE_DANGER]


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


def entropy_bits(chance: Floats) -> Floats:
    """Return the entropy of a yes/no variable in bits, for each probability."""
    inside = np.clip(chance, 1e-300, 1.0)
    outside = np.clip(1.0 - chance, 1e-300, 1.0)
    return np.asarray(-inside * np.log2(inside) - outside * np.log2(outside))


def asking_minutes(knowledge: Knowledge, finding: str) -> float:
    """Return the person's minutes for a question, with the time to find the tools."""
    entry = knowledge.findings[finding]
    return entry.minutes + TOOL_MINUTES * len(entry.needs)


def _room(posterior: Posterior) -> int:
    """Return how many candidates fit into one batch."""
    width = max(hypothesis.plan.width for hypothesis in posterior.hypotheses)
    return max(min(MOST_CANDIDATES, BATCH_CELLS >> width), LEAST_CANDIDATES)
