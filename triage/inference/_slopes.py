"""How the sum over all sets of faults changes with each number of the knowledge.

P(evidence) and P(evidence, fault) are linear in every single prior, link and leak. One pass
forward and one back give all slopes at once: at the step where a number enters, the slope is the
sum over states of what came before times what comes after with the number at 1, less the same
with the number at 0.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from triage.evidence import Evidence
from triage.inference._case import TRIED, list_untold
from triage.inference._frontier import Absorb, Moment, Open, Terms, gather, look_ahead, look_back
from triage.inference._hypothesis import Hypothesis
from triage.inference._posterior import Posterior
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Slope:
    """How P(evidence) and P(evidence, fault) change with one number.

    Parameters
    ----------
    kind : {"prior", "link", "leak", "cure"}
        "cure" is that of a remedy that was tried.
    fault : str
        Id; "" for a leak.
    subject : str
        The finding, or the remedy of a cure; "" for a prior.
    value : float
        The number as it enters the sum; a prior as shifted by risks and guesses.
    by : array, shape (1 + faults,)
        Slopes of P(evidence) and of P(evidence, fault) for each fault asked about, divided by
        P(evidence).
    """

    kind: str
    fault: str
    subject: str
    value: float
    by: Floats


def list_slopes(
    knowledge: Knowledge,
    evidence: Evidence,
    posterior: Posterior,
    faults: Sequence[str],
    *,
    least: float,
) -> tuple[Slope, ...]:
    """Return the slopes of the numbers that enter the evidence, all processes together.

    Parameters
    ----------
    knowledge : Knowledge
    evidence : Evidence
    posterior : Posterior
        Of this evidence.
    faults : sequence of str
        Faults asked about.
    least : float
        Priors, links and cure rates of other faults less probable than this are passed over.

    Returns
    -------
    tuple of Slope
        Priors, and the numbers of findings present, doubted, surely absent or not mentioned in
        a written report, and of remedies tried. Leaks of findings surely absent or not mentioned
        are left out, for they change nothing.

    Notes
    -----
    Source: [castillo1997], [darwiche2003].
    """
    found: dict[tuple[str, str, str], Slope] = {}
    for hypothesis in posterior.hypotheses:
        part = _Pass(knowledge, evidence, posterior, hypothesis, tuple(faults), least)
        for slope in part.slopes():
            key = (slope.kind, slope.fault, slope.subject)
            by = slope.by + found[key].by if key in found else slope.by
            found[key] = Slope(*key, slope.value, by)
    return tuple(found.values())


@dataclass(frozen=True, slots=True, eq=False)
class _Pass:
    """One process. Column 0 is the evidence; in column k the k-th fault asked about is there."""

    knowledge: Knowledge
    evidence: Evidence
    posterior: Posterior
    hypothesis: Hypothesis
    asked: tuple[str, ...]
    least: float

    def slopes(self) -> Iterator[Slope]:
        """Yield the slopes under this process."""
        hypothesis = self.hypothesis
        prior, weight = self._columns()
        active, free = hypothesis.active, hypothesis.free
        leaks = [bit.leak for bit in hypothesis.bits]
        terms = Terms(prior[active], weight[active], leaks, hypothesis.pair[:, :, None])
        log_total, states = look_ahead(hypothesis.plan, terms)
        spared = 1.0 - prior[free] + prior[free] * weight[free]
        constant = hypothesis.log_prior + hypothesis.log_constant - self.posterior.log_evidence
        total = np.exp(log_total + constant) * spared.prod(axis=0)
        # A fault asked about that cannot be under this process is no part of the sum.
        asked = [self.knowledge.network.fault_at[name] for name in self.asked]
        total[1:] *= hypothesis.case.prior[asked] > 0.0
        for moment in look_back(hypothesis.plan, terms, states):
            scale = total / np.where(moment.whole > 0.0, moment.whole, 1.0)
            if isinstance(moment.step, Open):
                yield from self._leak(moment.step, moment, scale)
                continue
            fault = int(active[moment.step.fault])
            there = scale * (moment.state * moment.gathered).sum(axis=0)
            alone = scale * (moment.state * moment.after).sum(axis=0)
            share = (prior * weight)[fault]
            yield from self._fault(fault, there, alone)
            yield from self._links(moment.step, moment, scale * share, fault)
        yield from self._idle_leaks(total)
        for row, fault in enumerate(free.tolist()):
            there = total * (prior * weight)[fault] / np.where(spared[row] > 0.0, spared[row], 1.0)
            alone = total / np.where(spared[row] > 0.0, spared[row], 1.0)
            yield from self._fault(fault, there, alone)

    def _columns(self) -> tuple[Floats, Floats]:
        """Return priors and weights, shape (faults, 1 + asked)."""
        case, network = self.hypothesis.case, self.knowledge.network
        prior = np.repeat(case.prior[:, None], 1 + len(self.asked), axis=1)
        weight = np.repeat(case.weight[:, None], 1 + len(self.asked), axis=1)
        for column, name in enumerate(self.asked, start=1):
            fault = network.fault_at[name]
            weight[fault, column] *= case.prior[fault]
            prior[fault, column] = 1.0
        return prior, weight

    def _is_passed_over(self, fault: int) -> bool:
        name = self.knowledge.network.fault_ids[fault]
        return name not in self.asked and self.posterior.chances[name] < self.least

    def _fault(self, fault: int, there: Floats, alone: Floats) -> Iterator[Slope]:
        """Yield the slopes of a prior and of the links to findings surely absent or not mentioned.

        `there` is P(column, fault), `alone` the sum with the fault taken out.
        """
        if self._is_passed_over(fault):
            return
        network, name = self.knowledge.network, self.knowledge.network.fault_ids[fault]
        chance = float(self.hypothesis.case.prior[fault])
        if 0.0 < chance < 1.0:
            by = there / chance - alone
            if name in self.asked:
                # In its own column the fault is there in any case; its prior is a factor.
                own = self.asked.index(name) + 1
                by[own] = there[own] / chance
            yield Slope("prior", name, "", chance, by)
        for label in self.hypothesis.case.absent:
            if label in network.finding_at:
                kind, subject = "link", label
                link = float(network.link[fault, network.finding_at[label]])
            else:
                kind, subject = "cure", label.removeprefix(TRIED)
                link = float(network.cure[network.action_at[subject], fault])
            if 0.0 < link < 1.0:
                yield Slope(kind, name, subject, link, -there / (1.0 - link))
        telling = self.evidence.telling
        for at in self._silent(fault):
            link = float(network.link[fault, at])
            by = -there * telling / (1.0 - telling * link)
            yield Slope("link", name, network.finding_ids[at], link, by)

    def _silent(self, fault: int) -> list[int]:
        """Return the findings linked to a fault that a written report does not mention."""
        if self.evidence.telling == 0.0:
            return []
        silent = list_untold(self.knowledge, self.evidence)
        linked = self.knowledge.network.link[fault] > 0.0
        return [int(at) for at in np.flatnonzero(silent & linked)]

    def _leak(self, step: Open, moment: Moment, scale: Floats) -> Iterator[Slope]:
        """Yield the slope of the leak of a bit of a finding."""
        bit = self.hypothesis.bits[step.bit]
        if bit.label in self.knowledge.network.finding_at:
            half = moment.after.shape[0] // 2
            change = moment.after[half:] - moment.after[:half]
            yield Slope(
                "leak", "", bit.label, bit.leak, scale * (moment.state * change).sum(axis=0)
            )

    def _idle_leaks(self, total: Floats) -> Iterator[Slope]:
        """Yield the slopes of the leaks of bits no possible fault is linked to.

        They matter where one process explains a finding and the other does not.
        """
        linked = {bit.label for bit in self.hypothesis.bits}
        for bit in self.hypothesis.case.bits:
            if bit.label in self.knowledge.network.finding_at and bit.label not in linked:
                by = total * (bit.if_present - bit.if_absent) / math.exp(bit.log_by_leak())
                yield Slope("leak", "", bit.label, bit.leak, by)

    def _links(self, step: Absorb, moment: Moment, scale: Floats, fault: int) -> Iterator[Slope]:
        """Yield the slopes of the links from a fault to bits."""
        if self._is_passed_over(fault):
            return
        network = self.knowledge.network
        bits = [bit for bit in self.hypothesis.bits if bit.link[fault] > 0.0]
        for place, bit in enumerate(bits):
            sure, never = (
                gather(
                    moment.after,
                    (*step.links[:place], (step.links[place][0], at), *step.links[place + 1 :]),
                )
                for at in (1.0, 0.0)
            )
            by = scale * (moment.state * (sure - never)).sum(axis=0)
            is_finding = bit.label in network.finding_at
            subject = bit.label if is_finding else bit.label.removeprefix(TRIED)
            kind = "link" if is_finding else "cure"
            yield Slope(kind, network.fault_ids[fault], subject, float(bit.link[fault]), by)
