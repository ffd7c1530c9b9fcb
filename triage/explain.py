"""Why a fault is suspected: what each piece of evidence weighs, as data.

The wording lives in templates; here are ids, states and weights only.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.errors import UnknownIdError
from triage.evidence import Evidence
from triage.inference import Posterior, compute_answer_effects, compute_posterior
from triage.knowledge import Knowledge
from triage.questions import rank_questions

LEAST_DECIBANS = 0.1  # weights below this are not listed [judgement: desk, 2026-11-25]
CONSIDERED_QUESTIONS = 12  # findings tried as the one that would change the ranking
# A change of ranking less probable than this is not worth naming [judgement: desk, 2026-11-25]
LEAST_CHANGE = 0.02
_TINY = 1e-15  # probabilities nearer to 0 or 1 than rounding allows to tell


@dataclass(frozen=True, slots=True)
class Reason:
    """One piece of evidence and what it weighs for a fault.

    `kind` is "finding", "risk", "tried" or "guess"; `state` is "present" or "absent" for a
    finding, the result for something tried, "present" otherwise. `decibans` is 10·log10 of the
    factor by which it changes the odds of the fault: above 0 it speaks for the fault. `source`
    says where the evidence comes from.
    """

    id: str
    kind: str
    state: str
    decibans: float
    source: str


@dataclass(frozen=True, slots=True)
class FaultReasons:
    """The reasons for and against one fault, strongest first."""

    fault: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Explanation:
    """Reasons for each fault asked about, and the finding that could change who leads.

    `would_change` is None when no single answer is likely to.
    """

    faults: tuple[FaultReasons, ...]
    would_change: str | None


def explain(knowledge: Knowledge, evidence: Evidence, *, faults: Sequence[str]) -> Explanation:
    """Return what each piece of evidence weighs for some faults.

    The weight is the *leave-one-out* change of the log-odds: the posterior with everything
    against the posterior without this piece. Weights of pieces that explain each other do not
    add up to the whole. A finding left out of a written report counts as not mentioned.

    Parameters
    ----------
    knowledge : Knowledge
    evidence : Evidence
    faults : sequence of str
        Ids of the faults to explain.

    Returns
    -------
    Explanation

    Raises
    ------
    UnknownIdError
        If a fault, or an id in the evidence, is not in the knowledge.
    """
    for fault in faults:
        if fault not in knowledge.faults:
            raise UnknownIdError("fault", fault, knowledge.faults)
    posterior = compute_posterior(knowledge, evidence)
    reasons: dict[str, list[Reason]] = {fault: [] for fault in faults}
    for rest, blank in _leave_one_out(evidence):
        without = compute_posterior(knowledge, rest)
        for fault in faults:
            weight = _decibans(posterior.chances[fault]) - _decibans(without.chances[fault])
            if math.isfinite(weight) and abs(weight) >= LEAST_DECIBANS:
                reasons[fault].append(replace(blank, decibans=weight))
    return Explanation(
        faults=tuple(
            FaultReasons(fault, tuple(sorted(found, key=lambda why: (-abs(why.decibans), why.id))))
            for fault, found in reasons.items()
        ),
        would_change=_find_changer(knowledge, evidence, posterior),
    )


def _leave_one_out(evidence: Evidence) -> Iterator[tuple[Evidence, Reason]]:
    """Yield the evidence without each piece, and the piece as a reason without its weight."""
    for finding in dict.fromkeys(seen.finding for seen in evidence.observations):
        about = [seen for seen in evidence.observations if seen.finding == finding]
        rest = tuple(seen for seen in evidence.observations if seen.finding != finding)
        speaks_for = sum(seen.state == "present" for seen in about) * 2 >= len(about)
        state = "present" if speaks_for else "absent"
        sources = ", ".join(dict.fromkeys(seen.source for seen in about))
        yield (
            replace(evidence, observations=rest),
            Reason(finding, "finding", state, 0.0, sources),
        )
    for risk in dict.fromkeys(evidence.risks):
        others = tuple(name for name in evidence.risks if name != risk)
        yield replace(evidence, risks=others), Reason(risk, "risk", "present", 0.0, "report")
    for action in dict.fromkeys(tried.action for tried in evidence.tried):
        entries = [tried for tried in evidence.tried if tried.action == action]
        left = tuple(tried for tried in evidence.tried if tried.action != action)
        reason = Reason(action, "tried", entries[-1].result, 0.0, "report")
        yield replace(evidence, tried=left), reason
    for fault in dict.fromkeys(guess.fault for guess in evidence.guesses):
        kept = tuple(guess for guess in evidence.guesses if guess.fault != fault)
        yield replace(evidence, guesses=kept), Reason(fault, "guess", "present", 0.0, "report")


def _decibans(chance: float) -> float:
    """Return the odds of a probability in decibans; infinite where rounding hides them."""
    if chance <= 0.0:
        return -math.inf
    if chance >= 1.0 - _TINY:
        return math.inf
    return 10.0 * math.log10(chance / (1.0 - chance))


def _find_changer(knowledge: Knowledge, evidence: Evidence, posterior: Posterior) -> str | None:
    """Return the finding whose answer is likeliest to put another fault first."""
    questions = rank_questions(knowledge, evidence, posterior, limit=CONSIDERED_QUESTIONS)
    asked = [question.finding for question in questions]
    effects = compute_answer_effects(knowledge, posterior, asked)
    leader = int(effects.now.argmax())
    change = np.where(effects.if_present.argmax(axis=1) != leader, effects.present, 0.0)
    change += np.where(effects.if_absent.argmax(axis=1) != leader, 1.0 - effects.present, 0.0)
    if not len(change) or change.max() < LEAST_CHANGE:
        return None
    return effects.findings[int(change.argmax())]
