"""What the posterior would be without each single piece of the evidence, all in one sum.

Leaving a piece out never needs a network of its own:

* a finding surely absent, or silence, takes its factor out of the weights of the faults;
* a finding seen otherwise gets the likelihood pair (1, 1);
* a risk, a guess or the text as a whole multiplied the prior odds of some faults. Odds and weights
  enter the sum side by side, so dividing the weights by that factor undoes it, but for a factor
  common to all sets of faults, which matters only where several processes are mixed.

So every piece is one more column of the batch. Only a material or a kind of machine that rules
out faults takes a sum of its own.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.evidence import Evidence
from triage.inference._case import (
    GUESS_ODDS,
    TRIED,
    Bit,
    list_looks,
    list_untold,
    safe_log,
    shifted_prior,
)
from triage.inference._hypothesis import Hypothesis
from triage.inference._posterior import Posterior, update_posterior
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats

# An opposite that has less than this share of what is left without a piece is lost in rounding.
LEAST_SHARE = 1e-9


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of evidence: all that is known of one finding, one risk, and so on.

    `kind` is "finding", "tried", "risk", "guess", "text", "silence", "material" or "machine";
    text and silence have no id. `pair` is the likelihood pair, present first, of a finding or of
    "it got better" after something tried; None for the other kinds.
    """

    kind: str
    id: str
    pair: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Opposite:
    """A finding if it were the opposite of what was observed.

    `odds` are those of the opposite under all the other evidence; `chances`, shape (faults,), is
    the posterior if it were so, None where that cannot be.
    """

    odds: float
    chances: Floats | None


@dataclass(frozen=True, slots=True, eq=False)
class Variants:
    """The posterior without each piece of evidence.

    `now`, shape (faults,), is the posterior with everything; `without`, shape
    (pieces, faults), without each piece; `log_ratio`, shape (pieces,), is
    log P(evidence without the piece) - log P(evidence). Pieces that change nothing are left out.
    """

    pieces: tuple[Piece, ...]
    now: Floats
    without: Floats
    log_ratio: Floats

    def opposite(self, at: int) -> Opposite:
        """Return what would be if the finding of a piece were the opposite of what was observed.

        With the likelihood pair (a, b), P(evidence) = a·P(rest, present) + b·P(rest, absent),
        and their plain sum is P(rest): two equations for the two parts.

        Parameters
        ----------
        at : int
            Place of a piece that has a likelihood pair.

        Returns
        -------
        Opposite
        """
        pair = self.pieces[at].pair
        if pair is None:
            msg = f"the piece '{self.pieces[at].kind} {self.pieces[at].id}' has no opposite"
            raise ValueError(msg)
        likely, unlikely = max(pair), min(pair)
        total = math.exp(self.log_ratio[at])
        # Parts of P(rest) over P(evidence): as observed, and the opposite.
        observed = (1.0 - unlikely * total) / (likely - unlikely)
        opposite = (likely * total - 1.0) / (likely - unlikely)
        if opposite <= LEAST_SHARE * total:
            return Opposite(0.0, None)
        joint = (likely * total * self.without[at] - self.now) / (likely - unlikely)
        odds = math.inf if observed <= 0.0 else opposite / observed
        return Opposite(odds, np.clip(joint / opposite, 0.0, 1.0))


@dataclass(frozen=True, slots=True, eq=False)
class _Column:
    """A piece left out, under one process: what takes the place of the case's own numbers.

    `log_constant` is added to log P(evidence) under this process, `log_common` under each.
    """

    piece: Piece
    weight: Floats
    bit: int | None = None
    log_constant: float = 0.0
    log_common: float = 0.0


def compute_variants(knowledge: Knowledge, evidence: Evidence, posterior: Posterior) -> Variants:
    """Return the posterior without each piece of evidence.

    A finding left out counts as not known, and is not taken for silence.

    Parameters
    ----------
    knowledge : Knowledge
    evidence : Evidence
    posterior : Posterior
        Of this evidence.

    Returns
    -------
    Variants
    """
    by_process = [
        list(_leave_out(knowledge, evidence, hypothesis)) for hypothesis in posterior.hypotheses
    ]
    # Every process has the same pieces in the same order; keep those that change any of them.
    kept = [
        at
        for at in range(len(by_process[0]))
        if any(
            _changes(columns[at], hypothesis)
            for columns, hypothesis in zip(by_process, posterior.hypotheses, strict=True)
        )
    ]
    summed = [
        _sum_columns(hypothesis, [columns[at] for at in kept])
        for columns, hypothesis in zip(by_process, posterior.hypotheses, strict=True)
    ]
    log_total = np.array([part for part, _ in summed])
    log_mixed = np.logaddexp.reduce(log_total, axis=0)
    share = np.exp(log_total - log_mixed)
    chances = sum(
        part[:, None] * np.where(part[:, None] > 0.0, marginal.T, 0.0)
        for part, (_, marginal) in zip(share, summed, strict=True)
    )
    chances = np.asarray(chances)
    more = list(_without_restriction(knowledge, evidence, posterior))
    return Variants(
        pieces=(*(by_process[0][at].piece for at in kept), *(piece for piece, _ in more)),
        now=chances[0],
        without=np.array(
            [*chances[1:], *(list(rest.chances.values()) for _, rest in more)]
        ).reshape(-1, len(knowledge.faults)),
        log_ratio=np.array(
            [
                *(log_mixed[1:] - log_mixed[0]),
                *(rest.log_evidence - posterior.log_evidence for _, rest in more),
            ]
        ),
    )


def _leave_out(
    knowledge: Knowledge, evidence: Evidence, hypothesis: Hypothesis
) -> Iterator[_Column]:
    """Yield the case under one process without each piece, whether it changes something or not."""
    looks = list_looks(knowledge, evidence)
    sure = [look for look in looks if look.if_present == 0.0]
    rows = [1.0 - look.link for look in sure]
    pieces = [_piece_of(look) for look in sure]
    common = [-safe_log(look.if_absent * (1.0 - look.leak)) for look in sure]
    if evidence.telling > 0.0:
        untold, network = list_untold(knowledge, evidence), knowledge.network
        rows.append((1.0 - evidence.telling * network.link[:, untold]).prod(axis=1))
        pieces.append(Piece("silence", ""))
        common.append(-float(np.log1p(-evidence.telling * network.leak[untold]).sum()))
    for piece, weight, constant in zip(pieces, _products_but_one(rows), common, strict=True):
        yield _Column(piece, weight, log_common=constant)
    yield from _leave_out_bits(looks, hypothesis)
    yield from _leave_out_odds(knowledge, evidence, hypothesis)


def _leave_out_bits(looks: Sequence[Bit], hypothesis: Hypothesis) -> Iterator[_Column]:
    """Yield the case without each finding that is not surely absent."""
    places = {bit.label: at for at, bit in enumerate(hypothesis.bits)}
    ours = {bit.label for bit in hypothesis.case.bits}
    for look in looks:
        if look.if_present == 0.0 or look.if_present == look.if_absent:
            continue
        at = places.get(look.label)
        # No possible fault is linked to it: it stands in the constant; left out before: nowhere.
        alone = -look.log_by_leak() if at is None and look.label in ours else 0.0
        yield _Column(_piece_of(look), hypothesis.case.weight, at, alone)


def _leave_out_odds(
    knowledge: Knowledge, evidence: Evidence, hypothesis: Hypothesis
) -> Iterator[_Column]:
    """Yield the case without each risk and each guess, and without the text as a whole."""
    at = knowledge.network.fault_at
    shifts = [
        (Piece("risk", risk), knowledge.risks[risk].odds) for risk in dict.fromkeys(evidence.risks)
    ]
    shifts += [
        (Piece("guess", fault), {fault: GUESS_ODDS})
        for fault in dict.fromkeys(guess.fault for guess in evidence.guesses)
    ]
    if evidence.text:
        ratios = {fault: math.exp(ratio) for fault, ratio in evidence.text.items()}
        shifts.append((Piece("text", ""), ratios))
    prior = hypothesis.case.prior
    unsure = (prior > 0.0) & (prior < 1.0)
    for piece, odds in shifts:
        factor = np.ones(len(prior))
        factor[[at[fault] for fault in odds]] = list(odds.values())
        factor[~unsure] = 1.0
        # 1 - prior becomes larger by this, once for each fault.
        spared = 1.0 - prior + prior / factor
        yield _Column(
            piece, hypothesis.case.weight / factor, log_constant=-float(np.log(spared).sum())
        )


def _piece_of(look: Bit) -> Piece:
    """Return a look at a finding, or what came of something tried, as a piece."""
    kind = "tried" if look.label.startswith(TRIED) else "finding"
    pair = (look.if_present, look.if_absent)
    return Piece(kind, look.label.removeprefix(TRIED), pair)


def _products_but_one(rows: Sequence[Floats]) -> Iterator[Floats]:
    """Yield for each row the product of all others, without dividing."""
    above = [np.ones(0)] * len(rows)
    product: Floats | float = 1.0
    for at, row in enumerate(rows):
        above[at] = np.broadcast_to(product, row.shape)
        product = product * row
    below: Floats | float = 1.0
    found = []
    for at in reversed(range(len(rows))):
        found.append(above[at] * below)
        below = below * rows[at]
    yield from reversed(found)


def _changes(column: _Column, hypothesis: Hypothesis) -> bool:
    """Return whether leaving the piece out changes anything under this process."""
    possible = hypothesis.case.prior > 0.0
    same = np.array_equal(column.weight[possible], hypothesis.case.weight[possible])
    return column.bit is not None or column.log_constant != 0.0 or not same


def _sum_columns(hypothesis: Hypothesis, columns: Sequence[_Column]) -> tuple[Floats, Floats]:
    """Return log P(evidence) and the posterior of each fault: as it is, then for each column."""
    weight = np.array([hypothesis.case.weight, *(column.weight for column in columns)]).T
    pair = np.repeat(hypothesis.pair[:, :, None], 1 + len(columns), axis=2)
    for at, column in enumerate(columns):
        if column.bit is not None:
            pair[column.bit, :, 1 + at] = 1.0
    log_total, marginal = hypothesis.sum_variants(weight, pair)
    log_total[1:] += [column.log_constant + column.log_common for column in columns]
    return log_total, marginal


def _without_restriction(
    knowledge: Knowledge, evidence: Evidence, posterior: Posterior
) -> Iterator[tuple[Piece, Posterior]]:
    """Yield the posterior without the material and the machine, where they rule out faults."""
    for kind, name in (("material", evidence.material), ("machine", evidence.machine)):
        if name is None:
            continue
        rest = (
            replace(evidence, material=None)
            if kind == "material"
            else replace(evidence, machine=None)
        )
        if all(
            np.array_equal(
                shifted_prior(knowledge, rest, hypothesis.process), hypothesis.case.prior
            )
            for hypothesis in posterior.hypotheses
        ):
            continue
        yield Piece(kind, name), update_posterior(knowledge, posterior, rest)
