"""Why a fault is suspected: what each piece of evidence weighs, as data.

The wording lives in templates; here are ids, states and weights only.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from triage.errors import UnknownIdError
from triage.evidence import Evidence
from triage.explain._changes import Change, Doubt, list_changes, list_doubts
from triage.inference import (
    Piece,
    Posterior,
    Variants,
    compute_posterior,
    compute_variants,
)
from triage.knowledge import Knowledge

LEAST_DECIBANS = 0.1  # weights below this are not listed [judgement: desk, 2026-11-25]
# Findings that are not there and weigh less than this are told together, so that the reader is
# not flooded [judgement: desk, 2026-11-25]
WEAK_DECIBANS = 2.0
_TINY = 1e-15  # probabilities nearer to 0 or 1 than rounding allows to tell


@dataclass(frozen=True, slots=True)
class Reason:
    """One piece of evidence and what it weighs for a fault.

    `kind` is "finding", "risk", "tried", "guess", "material", "machine", "text" or "silence".
    The last two have an empty id: "text" is what the wording of a report as a whole says, and
    "silence" all that a written report does not mention. `state` is "present" or
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
class Absences:
    """Findings that are not there and weigh little each, all for a fault or all against it.

    `decibans` is the sum of their weights.
    """

    findings: tuple[str, ...]
    decibans: float


@dataclass(frozen=True, slots=True)
class FaultReasons:
    """The reasons for and against one fault, strongest first.

    `absences` are weak reasons taken together: at most one entry for and one against, and none
    of its findings stands in `reasons`. `prior_decibans` are the odds of the fault before any
    evidence but process, material and machine; `posterior_decibans` those after all of it.
    `together_decibans` is what is left of the difference, so that prior, reasons, absences and
    this add up to the posterior: pieces that explain each other, or only count together. All
    are finite unless the fault is certain or impossible, which has no reasons.
    """

    fault: str
    reasons: tuple[Reason, ...]
    absences: tuple[Absences, ...]
    prior_decibans: float
    posterior_decibans: float
    together_decibans: float


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
) -> Explanation:
    """Return what each piece of evidence weighs for some faults.

    The weight is the *leave-one-out* change of the log-odds: the posterior with everything
    against the posterior without this piece. Weights of pieces that explain each other do not
    add up to the whole. A finding left out counts as not known, and is not taken for silence.

    Parameters
    ----------
    knowledge : Knowledge
    evidence : Evidence
    faults : sequence of str
        Ids of the faults to explain.
    posterior : Posterior, optional
        Of this evidence, when it is at hand.

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
    variants = compute_variants(knowledge, evidence, posterior)
    before = compute_posterior(
        knowledge, Evidence(evidence.process, evidence.material, evidence.machine)
    )
    blanks = [_blank(piece, evidence) for piece in variants.pieces]
    changes = list_changes(knowledge, evidence, posterior)
    return Explanation(
        faults=tuple(
            _reasons(knowledge, fault, before.chances[fault], variants, blanks) for fault in faults
        ),
        changes=changes,
        doubts=list_doubts(knowledge, variants, [blank.state for blank in blanks]),
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
    before_decibans = _decibans(before)
    weighed = [
        replace(blank, decibans=after - _decibans(chance))
        for blank, chance in zip(blanks, variants.without[:, at].tolist(), strict=True)
    ]
    weighed = [reason for reason in weighed if math.isfinite(reason.decibans)]
    absences = tuple(_group_absences(weighed))
    grouped = {finding for group in absences for finding in group.findings}
    reasons = [
        reason
        for reason in weighed
        if abs(reason.decibans) >= LEAST_DECIBANS
        and not (reason.kind == "finding" and reason.id in grouped)
    ]
    told = sum(reason.decibans for reason in reasons) + sum(group.decibans for group in absences)
    together = after - before_decibans - told
    return FaultReasons(
        fault=fault,
        reasons=tuple(sorted(reasons, key=lambda why: (-abs(why.decibans), why.id))),
        absences=absences,
        prior_decibans=before_decibans,
        posterior_decibans=after,
        together_decibans=together if math.isfinite(together) else 0.0,
    )


def _group_absences(weighed: Sequence[Reason]) -> Iterator[Absences]:
    """Yield the weak absent findings against the fault, then those for it, two or more each."""
    for sign in (-1.0, 1.0):
        group = [
            reason
            for reason in weighed
            if (reason.kind, reason.state) == ("finding", "absent")
            and 0.0 < sign * reason.decibans < WEAK_DECIBANS
        ]
        group.sort(key=lambda why: (-abs(why.decibans), why.id))
        decibans = sum(reason.decibans for reason in group)
        if len(group) > 1 and abs(decibans) >= LEAST_DECIBANS:
            yield Absences(tuple(reason.id for reason in group), decibans)


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


def _decibans(chance: float) -> float:
    """Return the odds of a probability in decibans; infinite where rounding hides them."""
    if chance <= 0.0:
        return -math.inf
    if chance >= 1.0 - _TINY:
        return math.inf
    return 10.0 * math.log10(chance / (1.0 - chance))
