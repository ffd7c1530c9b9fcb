"""One process assumed: which faults can occur, what explains the evidence, how probable it is."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.evidence import Evidence
from triage.inference._case import Bit, Case, make_case, safe_log
from triage.inference._frontier import Plan, Terms, look_ahead, make_plan, sum_over_faults
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats

# Bits open at once. 16 cost some 40 ms; each further one doubles that. Thirty findings present
# at once open about 12 in the knowledge as it is.
MAX_WIDTH = 16
# Another order is tried where the usual one opens at most so many bits more than that, and so
# many of them: both found by trying on the knowledge as it is.
NEARLY = 4
MOST_STARTS = 8
# Numbers in one state of the sum. A wider batch is summed in parts: each fault keeps a state
# until the look back, so this bounds the memory to some 40 MB.
MOST_CELLS = 1 << 16

# How often prints sent in come from each process, when nothing says which
# [judgement: desk, 2026-11-25]
PROCESS_PRIOR = {"MEX": 0.9, "VPP": 0.1}


@dataclass(frozen=True, slots=True, eq=False)
class Hypothesis:
    """A case under one process, ready to be summed.

    `active` numbers the faults that can occur and are linked to a bit, `free` those that can
    occur and are not. `bits` are the bits some active fault is linked to; the others only
    change `log_constant`.
    """

    process: str
    log_prior: float
    case: Case
    active: NDArray[np.intp]
    free: NDArray[np.intp]
    bits: tuple[Bit, ...]
    log_constant: float
    plan: Plan

    def sum(self, factor: Floats) -> tuple[Floats, Floats]:
        """Return what `sum_over_faults` does for all faults of the knowledge.

        Parameters
        ----------
        factor : array, shape (faults, batch)
            Further likelihood of each fault, such as that of one more absent finding.

        Returns
        -------
        log_total : array, shape (batch,)
            log P(evidence, factor | process) + log P(process).
        marginal : array, shape (faults, batch)
        """
        return self.sum_variants(self.case.weight[:, None] * factor, self.pair[:, :, None])

    def log_totals(self, factor: Floats) -> Floats:
        """Return the first of what `sum` returns, in half the time."""
        weight = self.case.weight[:, None] * factor
        free = self.case.prior[self.free, None]
        rest = free * weight[self.free] + (1.0 - free)
        columns = max(1, MOST_CELLS >> self.plan.width)
        pair = self.pair[:, :, None]
        parts = [
            look_ahead(self.plan, self.terms(weight[:, start : start + columns], pair))[0]
            for start in range(0, weight.shape[1], columns)
        ]
        with np.errstate(divide="ignore"):  # evidence that cannot be
            by_free = np.log(rest).sum(axis=0)
        return np.asarray(self.log_prior + self.log_constant + np.concatenate(parts) + by_free)

    @property
    def pair(self) -> Floats:
        """The likelihood pairs of the bits, shape (bits, 2)."""
        found = [(bit.if_present, bit.if_absent) for bit in self.bits]
        return np.array(found, dtype=float).reshape(-1, 2)

    def sum_variants(self, weight: Floats, pair: Floats) -> tuple[Floats, Floats]:
        """Return what `sum` does for variants of the case.

        Parameters
        ----------
        weight : array, shape (faults, batch)
            Instead of the weight of the case.
        pair : array, shape (bits, 2, 1 or batch)
            Instead of the likelihood pairs of the bits.

        Returns
        -------
        log_total : array, shape (batch,)
        marginal : array, shape (faults, batch)
        """
        columns = max(1, MOST_CELLS >> self.plan.width)
        parts = [
            self._sum_part(
                weight[:, start : start + columns],
                pair if pair.shape[2] == 1 else pair[:, :, start : start + columns],
            )
            for start in range(0, weight.shape[1], columns)
        ]
        log_totals, marginals = zip(*parts, strict=True)
        return np.concatenate(log_totals), np.concatenate(marginals, axis=1)

    def terms(self, weight: Floats, pair: Floats) -> Terms:
        """Return the numbers of the sum over the active faults."""
        prior = self.case.prior[self.active, None]
        return Terms(prior, weight[self.active], [bit.leak for bit in self.bits], pair)

    def _sum_part(self, weight: Floats, pair: Floats) -> tuple[Floats, Floats]:
        """Return what `sum_variants` does, for as many columns as fit."""
        prior = self.case.prior
        marginal = np.zeros(weight.shape)
        sums = sum_over_faults(self.plan, self.terms(weight, pair))
        marginal[self.active] = sums.marginal
        share = prior[self.free, None] * weight[self.free]
        total = share + (1.0 - prior[self.free, None])
        log_total = self.log_prior + self.log_constant + sums.log_total
        with np.errstate(invalid="ignore", divide="ignore"):  # evidence that cannot be
            marginal[self.free] = share / total
            return log_total + np.log(total).sum(axis=0), marginal

    def log_without_faults(self) -> float:
        """Return log P(evidence | no modelled fault) + log P(process)."""
        by_leak = sum(bit.log_by_leak() for bit in self.bits)
        return self.log_prior + self.log_constant + by_leak


def make_hypotheses(
    knowledge: Knowledge, evidence: Evidence, known: Sequence[Hypothesis] = ()
) -> tuple[tuple[Hypothesis, ...], tuple[Bit, ...]]:
    """Return the case under each process it may be of, and the bits that had to be left out.

    `known` holds hypotheses made with the same knowledge; the plan of one with the same faults
    and bits is used again.

    Rule for too many findings: while the frontier is wider than `MAX_WIDTH`, one of the bits
    open at its widest is left out, in every process: the one whose likelihoods differ least over
    all sets of possible faults.

    Returns
    -------
    hypotheses : tuple of Hypothesis
    left_out : tuple of Bit
    """
    priors = PROCESS_PRIOR if evidence.process is None else {evidence.process: 1.0}
    cases = {process: make_case(knowledge, evidence, process) for process in priors}
    left_out: dict[str, Bit] = {}
    while True:
        found = tuple(
            _make_hypothesis(process, prior, cases[process].without(left_out), known)
            for process, prior in priors.items()
        )
        wide = [hypothesis for hypothesis in found if hypothesis.plan.width > MAX_WIDTH]
        if not wide:
            return found, tuple(left_out.values())
        prior = wide[0].case.prior
        open_bits = [wide[0].bits[at] for at in wide[0].plan.widest]
        least = min(open_bits, key=lambda bit: (bit.odds_range(prior), bit.label))
        left_out[least.label] = least


def _make_hypothesis(
    process: str, prior: float, case: Case, known: Sequence[Hypothesis]
) -> Hypothesis:
    """Return the case split into what the lattice must handle and what it need not."""
    possible = case.prior > 0.0
    link = np.array([bit.link for bit in case.bits]).reshape(len(case.bits), len(case.prior))
    rows = np.flatnonzero((link[:, possible] > 0.0).sum(axis=1))
    linked = set(rows.tolist())
    log_constant = case.log_constant
    for at, bit in enumerate(case.bits):
        if at not in linked:
            log_constant += bit.log_by_leak()
    touches = (link > 0.0).sum(axis=0) > 0
    active = np.flatnonzero(possible & touches)
    bits = tuple(case.bits[at] for at in rows)
    plan = _known_plan(active, bits, known) or _narrow_plan(link[np.ix_(rows, active)].T)
    return Hypothesis(
        process=process,
        log_prior=safe_log(prior),
        case=case,
        active=active,
        free=np.flatnonzero(possible & ~touches),
        bits=bits,
        log_constant=log_constant,
        plan=plan,
    )


def _known_plan(
    active: NDArray[np.intp], bits: tuple[Bit, ...], known: Sequence[Hypothesis]
) -> Plan | None:
    """Return the plan of a known case with the same links."""
    labels = [bit.label for bit in bits]
    for hypothesis in known:
        if labels == [bit.label for bit in hypothesis.bits] and np.array_equal(
            active, hypothesis.active
        ):
            return hypothesis.plan
    return None


def _narrow_plan(link: Floats) -> Plan:
    """Return the usual plan, or a narrower one where that is a little too wide."""
    plan = make_plan(link)
    if MAX_WIDTH < plan.width <= MAX_WIDTH + NEARLY:
        others = (make_plan(link, first=bit) for bit in range(min(link.shape[1], MOST_STARTS)))
        plan = min((plan, *others), key=lambda other: other.width)
    return plan
