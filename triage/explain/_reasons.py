"""Why a fault is suspected: what each piece of evidence weighs, as data.

The wording lives in templates; here are ids, states and weights only.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.errors import UnknownIdError
from triage.evidence import Evidence
from triage.inference import (
    AnswerEffects,
    Piece,
    Posterior,
    Variants,
    compute_posterior,
    compute_variants,
)
from triage.knowledge import Knowledge
from triage.previews import marginal_gains, preview_answers

LEAST_DECIBANS = 0.1  # weights below this are not listed [judgement: desk, 2026-11-25]
CONSIDERED_QUESTIONS = 12  # findings tried as those that would change the ranking
# A change of ranking less probable than this is not worth naming [judgement: desk, 2026-11-25]
LEAST_CHANGE = 0.02
MOST_CHANGES = 3
_TINY = 1e-15  # probabilities nearer to 0 or 1 than rounding allows to tell


@dataclass(frozen=True, slots=True)
class Reason:
    """One piece of evidence and what it weighs for a fault.

    `kind` is "finding", "risk", "tried", "guess", "material", "machine" or "silence"; the last,
    with an empty id, is all that a written report does not mention. `state` is "present" or
    "absent" for a finding, the result for something tried, "present" otherwise. `decibans` is
    10·log10 of the factor by which it changes the odds of the fault: above 0 it speaks for the
    fault. `source` says where the evidence comes from.
    """

    id: str
    kind: str
    state: str
    decibans: float
    source: str


@dataclass(frozen=True, slots=True)
class FaultReasons:
    """The reasons for and against one fault, strongest first.

    `prior_decibans` are its odds before any evidence, as process, material, machine and what
    they imply have it; `posterior_decibans` those after all of it. `together_decibans` is what
    is left of the difference: pieces that explain each other, or only count together.
    """

    fault: str
    reasons: tuple[Reason, ...]
    prior_decibans: float
    posterior_decibans: float
    together_decibans: float


@dataclass(frozen=True, slots=True)
class Change:
    """An answer not known yet that would put another fault first.

    `chance` is the probability of that answer ("present" or "absent"), `probability` that of
    the fault that would then lead.
    """

    finding: str
    answer: str
    chance: float
    leader: str
    probability: float


@dataclass(frozen=True, slots=True)
class Doubt:
    """A finding that, were it the opposite of what is believed, would let another fault lead.

    `state` is what is believed, `chance` the probability that it is the opposite, 0 for what was
    looked at; `probability` is that of the fault that would then lead.
    """

    finding: str
    state: str
    chance: float
    leader: str
    probability: float


@dataclass(frozen=True, slots=True)
class Explanation:
    """Reasons for each fault asked about, and what could change who leads.

    `changes` and `doubts` come likeliest first. `would_change` is the finding of the first
    change, None when no single answer is likely to change anything.
    """

    faults: tuple[FaultReasons, ...]
    changes: tuple[Change, ...]
    doubts: tuple[Doubt, ...]
    would_change: str | None


def explain(
    knowledge: Knowledge,
    evidence: Evidence,
    *,
    faults: Sequence[str],
    posterior: Posterior | None = None,
    effects: AnswerEffects | None = None,
) -> Explanation:
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
    posterior : Posterior, optional
        Of this evidence, when it is at hand.
    effects : AnswerEffects, optional
        What `preview_answers` gave for this evidence, when it is at hand.

    Returns
    -------
    Explanation

    Raises
    ------
    UnknownIdError
        If a fault, or an id in the evidence, is not in the knowledge.

    Notes
    -----
    Source: [good1950] for the weight of evidence and the deciban.
    """
    for fault in faults:
        if fault not in knowledge.faults:
            raise UnknownIdError("fault", fault, knowledge.faults)
    if posterior is None:
        posterior = compute_posterior(knowledge, evidence)
    if effects is None:
        effects = preview_answers(knowledge, evidence, posterior)
    variants = compute_variants(knowledge, evidence, posterior)
    before = compute_posterior(
        knowledge, Evidence(evidence.process, evidence.material, evidence.machine)
    )
    blanks = [_blank(piece, evidence) for piece in variants.pieces]
    changes = _list_changes(knowledge, effects)
    return Explanation(
        faults=tuple(
            _reasons(knowledge, fault, before.chances[fault], variants, blanks) for fault in faults
        ),
        changes=changes,
        doubts=_list_doubts(knowledge, variants, blanks),
        would_change=changes[0].finding if changes else None,
    )


def _reasons(
    knowledge: Knowledge,
    fault: str,
    before: float,
    variants: Variants,
    blanks: Sequence[Reason],
) -> FaultReasons:
    """Return the reasons for one fault, whose probability without any evidence is `before`."""
    at = knowledge.network.fault_at[fault]
    after = _decibans(float(variants.now[at]))
    without = variants.without[:, at].tolist() if blanks else []
    weights = [after - _decibans(chance) for chance in without]
    found = [
        replace(blank, decibans=weight)
        for blank, weight in zip(blanks, weights, strict=True)
        if math.isfinite(weight) and abs(weight) >= LEAST_DECIBANS
    ]
    prior = _decibans(before)
    together = after - prior - sum(reason.decibans for reason in found)
    return FaultReasons(
        fault=fault,
        reasons=tuple(sorted(found, key=lambda why: (-abs(why.decibans), why.id))),
        prior_decibans=prior,
        posterior_decibans=after,
        together_decibans=together if math.isfinite(together) else 0.0,
    )


def _blank(piece: Piece, evidence: Evidence) -> Reason:
    """Return a piece as a reason without its weight."""
    if piece.kind == "finding":
        about = [seen for seen in evidence.observations if seen.finding == piece.id]
        pair = piece.pair or (1.0, 1.0)
        sources = ", ".join(dict.fromkeys(seen.source for seen in about))
        state = "present" if pair[0] >= pair[1] else "absent"
        return Reason(piece.id, "finding", state, 0.0, sources)
    if piece.kind == "tried":
        results = [tried.result for tried in evidence.tried if tried.action == piece.id]
        return Reason(piece.id, "tried", results[-1], 0.0, "report")
    return Reason(piece.id, piece.kind, "present", 0.0, "report")


def _list_changes(knowledge: Knowledge, effects: AnswerEffects) -> tuple[Change, ...]:
    """Return the answers likeliest to put another fault first, likeliest first."""
    if not effects.findings:
        return ()
    names = knowledge.network.fault_ids
    places = np.argsort(-marginal_gains(effects), kind="stable")[:CONSIDERED_QUESTIONS]
    leader = int(effects.now.argmax())
    found = []
    for at in places.tolist():
        for answer, chance, row in (
            ("present", float(effects.present[at]), effects.if_present[at]),
            ("absent", 1.0 - float(effects.present[at]), effects.if_absent[at]),
        ):
            if chance < LEAST_CHANGE or np.isnan(row).any():
                continue
            first = int(row.argmax())
            if first != leader:
                found.append((chance, effects.findings[at], answer, first, float(row[first])))
    found.sort(key=lambda entry: -entry[0])
    return tuple(
        Change(finding, answer, chance, names[first], probability)
        for chance, finding, answer, first, probability in found[:MOST_CHANGES]
    )


def _list_doubts(
    knowledge: Knowledge, variants: Variants, blanks: Sequence[Reason]
) -> tuple[Doubt, ...]:
    """Return the findings that, were they otherwise, would let another fault lead."""
    names = knowledge.network.fault_ids
    leader = int(variants.now.argmax())
    found = []
    for at, blank in enumerate(blanks):
        pair = variants.pieces[at].pair
        if blank.kind != "finding" or pair is None:
            continue
        opposite = variants.opposite(at)
        if opposite.chances is None:
            continue
        first = int(opposite.chances.argmax())
        if first != leader:
            odds = opposite.odds * min(pair) / max(pair) if min(pair) > 0.0 else 0.0
            chance = 1.0 if math.isinf(odds) else odds / (1.0 + odds)
            probability = float(opposite.chances[first])
            found.append(Doubt(blank.id, blank.state, chance, names[first], probability))
    found.sort(key=lambda doubt: -doubt.chance)
    return tuple(found[:MOST_CHANGES])


def _decibans(chance: float) -> float:
    """Return the odds of a probability in decibans; infinite where rounding hides them."""
    if chance <= 0.0:
        return -math.inf
    if chance >= 1.0 - _TINY:
        return math.inf
    return 10.0 * math.log10(chance / (1.0 - chance))
