"""Several questions in one letter: each is worth what it adds to those before it."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.errors import ImpossibleEvidenceError, OutOfRangeError
from triage.evidence import Evidence, Observation
from triage.inference import AnswerEffects, Posterior, compute_answer_effects, update_posterior
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats
from triage.previews import marginal_gains
from triage.questions._ranking import LEAST_GAIN_BITS, LEAST_MINUTES, Question, rank_questions
from triage.questions._respondent import Respondent
from triage.questions._worth import KeptPlan, answer_values

MOST_TOGETHER = 3
CANDIDATES = 12  # questions looked at as the next of a batch, the best alone
# A further question that saves no minutes is added when it settles this share of what it would
# settle alone: otherwise it repeats the others [judgement: desk, 2026-11-25]
NEW_SHARE = 0.6
LEAST_SAVED = 0.05  # minutes; what saves less is said to save none [judgement: desk, 2026-11-25]


@dataclass(frozen=True, slots=True)
class BatchedQuestion:
    """A question and what it adds to those before it, in minutes saved and in bits."""

    question: Question
    added_minutes: float
    added_bits: float


@dataclass(frozen=True, slots=True)
class Batch:
    """Questions to ask together.

    `gain_minutes` is what all answers save together, `cost_minutes` what asking costs with one
    round trip; `pays` says whether the first is the greater, or a plausible danger is asked
    about. When it does not pay, the plan is better followed as it is.
    """

    questions: tuple[BatchedQuestion, ...]
    gain_minutes: float
    cost_minutes: float
    pays: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Branch:
    """One combination of answers: its probability and what is believed then."""

    chance: float
    evidence: Evidence
    posterior: Posterior


def choose_batch(
    knowledge: Knowledge,
    evidence: Evidence,
    posterior: Posterior,
    *,
    respondent: Respondent | None = None,
    exclude: Collection[str] = (),
    most: int = MOST_TOGETHER,
    effects: AnswerEffects | None = None,
    ranked: Sequence[Question] | None = None,
) -> Batch:
    """Return up to three questions that are worth asking together.

    The first is the best alone. Each further one is the one that adds most per minute given
    every combination of answers to those before it; it must save more than answering it costs,
    or, where nothing saves minutes, settle most of what it would settle alone. Another plausible
    danger comes before that. The letter's round trip is paid once, which is why questions that
    do not pay alone may pay together.

    Parameters
    ----------
    knowledge : Knowledge
    evidence : Evidence
    posterior : Posterior
        Of this evidence.
    respondent : Respondent, optional
    exclude : collection of str
        Findings not to ask about.
    most : int, 1 to `MOST_TOGETHER`
    effects : AnswerEffects, optional
        What `preview_answers` gave for this evidence.
    ranked : sequence of Question, optional
        What `rank_questions` gave for this person, when it is at hand.

    Returns
    -------
    Batch

    Raises
    ------
    OutOfRangeError
        If `most` is out of its range.
    """
    if not 1 <= most <= MOST_TOGETHER:
        msg = f"{most} questions together must be 1 to {MOST_TOGETHER}"
        raise OutOfRangeError(msg)
    person = respondent or Respondent(process=evidence.process)
    if ranked is None:
        ranked = rank_questions(
            knowledge, evidence, posterior, exclude=exclude, effects=effects, respondent=person
        )
    if not ranked:
        return Batch((), 0.0, 0.0, pays=False)
    first = ranked[0]
    chosen = [BatchedQuestion(first, first.gain_minutes, first.gain_bits)]
    branches = [_Branch(1.0, evidence, posterior)]
    rest = list(ranked[1:CANDIDATES])
    while rest and len(chosen) < most:
        branches = list(_branch_out(knowledge, branches, chosen[-1].question.finding))
        asked = {entry.question.danger for entry in chosen}
        dangers = [entry for entry in rest if entry.is_urgent and entry.danger not in asked]
        added = _next_question(knowledge, branches, dangers or rest)
        if added is None:
            break
        chosen.append(added)
        rest.remove(added.question)
    gain = sum(entry.added_minutes for entry in chosen)
    own = sum(entry.question.asking_minutes for entry in chosen)
    cost = own + person.round_trip_minutes
    return Batch(tuple(chosen), gain, cost, pays=gain > cost or first.is_urgent)


def _branch_out(
    knowledge: Knowledge, branches: Sequence[_Branch], finding: str
) -> Iterator[_Branch]:
    """Yield each branch with each answer to one more question that can come."""
    for branch in branches:
        present = float(compute_answer_effects(knowledge, branch.posterior, [finding]).present[0])
        answers: tuple[tuple[Observation, float], ...] = (
            (Observation(finding, "present"), present),
            (Observation(finding, "absent"), 1.0 - present),
        )
        for seen, chance in answers:
            if chance <= 0.0:
                continue
            observations = (*branch.evidence.observations, seen)
            evidence = replace(branch.evidence, observations=observations)
            try:
                after = update_posterior(knowledge, branch.posterior, evidence)
            except ImpossibleEvidenceError:  # rounding left a chance where there is none
                continue
            yield _Branch(branch.chance * chance, evidence, after)


def _next_question(
    knowledge: Knowledge, branches: Sequence[_Branch], rest: Sequence[Question]
) -> BatchedQuestion | None:
    """Return the question that adds most per minute, None when none adds enough."""
    saved, bits = _added(knowledge, branches, [question.finding for question in rest])
    best: tuple[tuple[float, float], BatchedQuestion] | None = None
    for question, minutes, settled in zip(rest, saved.tolist(), bits.tolist(), strict=True):
        is_new = settled >= max(LEAST_GAIN_BITS, NEW_SHARE * question.gain_bits)
        saves_nothing_alone = question.gain_minutes < LEAST_SAVED
        is_enough = minutes > question.asking_minutes or (saves_nothing_alone and is_new)
        if not (is_enough or question.is_urgent):
            continue
        own = max(question.asking_minutes, LEAST_MINUTES)
        rank = (max(0.0, minutes - own) / own, settled / own)
        if best is None or rank > best[0]:
            best = rank, BatchedQuestion(question, minutes, settled)
    return None if best is None else best[1]


def _added(
    knowledge: Knowledge, branches: Sequence[_Branch], findings: Sequence[str]
) -> tuple[Floats, Floats]:
    """Return minutes and bits that each further question adds, over all branches."""
    saved, bits = np.zeros(len(findings)), np.zeros(len(findings))
    for branch in branches:
        effects = compute_answer_effects(knowledge, branch.posterior, findings)
        # The answers before have made the plan anew already; the gain is beyond that.
        plan = KeptPlan.of(knowledge, branch.posterior, branch.evidence)
        saved += branch.chance * answer_values(knowledge, plan, findings)
        bits += branch.chance * marginal_gains(effects)
    return saved, bits
