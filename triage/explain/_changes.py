"""What would put another fault first: answers not known yet, and findings believed wrongly."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triage.evidence import Evidence
from triage.inference import Posterior, Variants, compute_answer_effects
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats
from triage.previews import list_candidates

# A change of ranking less probable than this is not worth naming [judgement: desk, 2026-11-25]
LEAST_CHANGE = 0.02
LEAST_DOUBT = 0.005  # the same for what is believed [judgement: desk, 2026-11-25]
MOST_CHANGES = 3
# A sure look is wrong, or put down wrongly, this often [judgement: desk, 2026-11-25]
SLIP = 0.02
# Open findings are summed exactly as far as one state of their batch keeps within so many
# numbers, all of them in an ordinary case. Before, a screen that takes faults as independent
# passes over those with which no rival comes this near to the leader.
BATCH_CELLS = 1 << 15
LEAST_CANDIDATES = 4
NEAR = 0.5
STEEP = 16.0  # how soon an answer is worth less the further a rival stays behind
_TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Change:
    """An answer not known yet that would put another fault first.

    `chance` is the probability of that answer ("present" or "absent"); `before` and
    `probability` are those of the fault that would then lead, now and then; `left` is what the
    fault that leads now would have.
    """

    finding: str
    answer: str
    chance: float
    leader: str
    before: float
    probability: float
    left: float


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something believed that, were it the opposite, would let another fault lead.

    `kind` is "finding", or "tried" for what came of a remedy; `id` names it, and `state` is what
    is believed: "present", "absent", or the result. `chance` is the probability that it is the
    opposite, all other evidence considered: by the doubt of the look itself, but never less than
    a slip of `SLIP` allows. `before` and `probability` are those of the fault that would then
    lead, now and then; `left` is what the fault that leads now would have.
    """

    kind: str
    id: str
    state: str
    chance: float
    leader: str
    before: float
    probability: float
    left: float


def list_changes(
    knowledge: Knowledge, evidence: Evidence, posterior: Posterior
) -> tuple[Change, ...]:
    """Return the answers that would put another fault first, likeliest first.

    At most `MOST_CHANGES`, none less probable than `LEAST_CHANGE`.
    """
    screened = _screen(knowledge, evidence, posterior)
    effects = compute_answer_effects(knowledge, posterior, screened)
    names = knowledge.network.fault_ids
    lead = int(effects.now.argmax())
    found = []
    for at, finding in enumerate(effects.findings):
        present = float(effects.present[at])
        for answer, chance, row in (
            ("present", present, effects.if_present[at]),
            ("absent", 1.0 - present, effects.if_absent[at]),
        ):
            # An answer that cannot come has no posterior.
            first = lead if chance < LEAST_CHANGE else int(row.argmax())
            if first != lead:
                now, then, left = (float(v) for v in (effects.now[first], row[first], row[lead]))
                found.append(Change(finding, answer, chance, names[first], now, then, left))
    found.sort(key=lambda change: (-change.chance, change.finding))
    return tuple(found[:MOST_CHANGES])


def _screen(knowledge: Knowledge, evidence: Evidence, posterior: Posterior) -> list[str]:
    """Return the open findings with an answer that may change who leads, likeliest first."""
    candidates = list_candidates(knowledge, evidence, posterior)
    network = knowledge.network
    columns = [network.finding_at[name] for name in candidates]
    now = np.array(list(posterior.chances.values()))[:, None]
    kept = 1.0 - network.link[:, columns] * now
    absent = (1.0 - network.leak[columns]) * kept.prod(axis=0)
    if_absent = now * (1.0 - network.link[:, columns]) / np.maximum(kept, _TINY)
    if_present = (now - absent * if_absent) / np.maximum(1.0 - absent, _TINY)
    score = np.zeros(len(columns))
    for chance, after in ((absent, if_absent), (1.0 - absent, if_present)):
        likely = np.where(chance >= LEAST_CHANGE, chance, 0.0)
        score = np.maximum(score, likely * _lead_left(after, int(now.argmax())) ** STEEP)
    width = max(hypothesis.plan.width for hypothesis in posterior.hypotheses)
    room = max(BATCH_CELLS >> width, LEAST_CANDIDATES)
    best = np.argsort(-score, kind="stable")[:room]
    return [candidates[at] for at in best if score[at] >= LEAST_CHANGE * NEAR**STEEP]


def _lead_left(after: Floats, lead: int) -> Floats:
    """Return how near the best rival comes to the leader, 1 where it passes it."""
    rival = np.delete(after, lead, axis=0).max(axis=0, initial=0.0)
    return np.asarray(np.minimum(rival / np.maximum(after[lead], _TINY), 1.0))


def list_doubts(
    knowledge: Knowledge, variants: Variants, states: Sequence[str]
) -> tuple[Doubt, ...]:
    """Return what, were it the opposite of what is believed, would let another fault lead.

    `states` says what is believed for each piece of the variants. Likeliest first; at most
    `MOST_CHANGES`, none less probable than `LEAST_DOUBT`.
    """
    names = knowledge.network.fault_ids
    now = variants.now
    lead = int(now.argmax())
    found = []
    for at, (piece, state) in enumerate(zip(variants.pieces, states, strict=True)):
        if piece.pair is None:
            continue
        opposite = variants.opposite(at)
        if opposite.chances is None:
            continue
        first = int(opposite.chances.argmax())
        chance = _chance_of_error(piece.pair, opposite.odds)
        if first != lead and chance >= LEAST_DOUBT:
            then, left = float(opposite.chances[first]), float(opposite.chances[lead])
            before = float(now[first])
            leader = names[first]
            found.append(Doubt(piece.kind, piece.id, state, chance, leader, before, then, left))
    found.sort(key=lambda doubt: (-doubt.chance, doubt.kind, doubt.id))
    return tuple(found[:MOST_CHANGES])


def _chance_of_error(pair: tuple[float, float], odds: float) -> float:
    """Return the probability that a finding is the opposite of what is believed.

    `odds` are those of the opposite under all other evidence.
    """
    odds *= max(min(pair) / max(pair), SLIP / (1.0 - SLIP))
    return 1.0 if math.isinf(odds) else odds / (1.0 + odds)
