"""The posterior of every fault, and what each possible answer would make of it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from triage.errors import ImpossibleEvidenceError, UnknownIdError
from triage.evidence import Evidence
from triage.inference._case import Bit, Dropped, check_ids, usable_observations
from triage.inference._hypothesis import Hypothesis, make_hypotheses
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats


@dataclass(frozen=True, slots=True)
class RankedFault:
    """A fault with its posterior, and its prior as shifted by risks, guesses, text and process."""

    id: str
    probability: float
    prior: float


@dataclass(frozen=True, slots=True)
class Posterior:
    """What the evidence says about the faults.

    Parameters
    ----------
    ranked : tuple of RankedFault
        All faults, best first; those that cannot occur stand last with 0.
    log_evidence : float
        Natural logarithm of P(evidence).
    error_bound : float
        No probability is further than this from its value under *all* the evidence; 0 means
        exact to rounding, about 1e-14.
    fit : float
        log P(evidence) - log P(evidence | no modelled fault). Near or below 0, coincidence
        explains the evidence as well as our faults do: none of them fits.
    dropped : tuple of Dropped
        Observations left out, with the reason.
    processes : mapping of str to float
        Probability of each process.
    chances : mapping of str to float
        Posterior of each fault, in the order of the knowledge.
    hypotheses : tuple of Hypothesis
        The case made ready under each process, so that it need not be made ready again.
    """

    ranked: tuple[RankedFault, ...]
    log_evidence: float
    error_bound: float
    fit: float
    dropped: tuple[Dropped, ...]
    processes: Mapping[str, float]
    chances: Mapping[str, float]
    hypotheses: tuple[Hypothesis, ...] = field(repr=False, compare=False)

    def probability(self, fault: str) -> float:
        """Return the posterior of one fault."""
        if fault not in self.chances:
            raise UnknownIdError("fault", fault, self.chances)
        return self.chances[fault]


@dataclass(frozen=True, slots=True, eq=False)
class AnswerEffects:
    """What the answers to some yes/no questions would do to the posterior.

    `findings` names the questions; `present`, shape (questions,), is P(present | evidence);
    `now`, shape (faults,), `if_present` and `if_absent`, shape (questions, faults), are
    posteriors in the order of the knowledge. A row is NaN where the answer cannot come.
    """

    findings: tuple[str, ...]
    present: Floats
    now: Floats
    if_present: Floats
    if_absent: Floats

    def only(self, places: Sequence[int]) -> "AnswerEffects":
        """Return the effects of the questions at some places."""
        rows = list(places)
        return AnswerEffects(
            findings=tuple(self.findings[at] for at in rows),
            present=self.present[rows],
            now=self.now,
            if_present=self.if_present[rows],
            if_absent=self.if_absent[rows],
        )


def compute_posterior(knowledge: Knowledge, evidence: Evidence) -> Posterior:
    """Return the exact posterior of every fault, several faults at once being possible.

    Parameters
    ----------
    knowledge : Knowledge
        Two-layer noisy-OR network. Leaks and links follow the *net* convention: a link is
        P(present | this fault alone, leak switched off), hence
        P(present | faults) = 1 - (1 - leak)·∏(1 - link).
    evidence : Evidence
        When its process is None, the processes are mixed exactly, with priors
        `PROCESS_PRIOR`; findings then count for every process, present by their leak alone
        where no fault of the process is linked to them.

    Returns
    -------
    Posterior

    Raises
    ------
    UnknownIdError
        If the evidence names something the knowledge does not hold.
    ImpossibleEvidenceError
        If the evidence has probability 0; cannot happen while every leak is above 0.

    Notes
    -----
    Frontier form of a sum over sets of explained findings: non-negative terms only, see
    `_frontier`. Source: [pearl1988] for the noisy-OR, [jaakkola1999] for the two-layer network.
    """
    return _posterior(knowledge, evidence, ())


def update_posterior(knowledge: Knowledge, posterior: Posterior, evidence: Evidence) -> Posterior:
    """Return `compute_posterior` of changed evidence, with what can be used of an earlier one.

    Whatever the change, the result is that of a full computation. The order of the sum is used
    again where the findings seen present or with doubt are the same ones: after one more absent
    finding, another risk, another material, or a look that is now more or less doubtful. The
    sum itself is not kept: of its states a changed weight leaves a quarter as they were, which
    is not worth carrying them.

    Parameters
    ----------
    knowledge : Knowledge
        The one the posterior was computed with.
    posterior : Posterior
        Of the evidence before the change.
    evidence : Evidence
        All of it, after the change.

    Returns
    -------
    Posterior

    Raises
    ------
    UnknownIdError, ImpossibleEvidenceError
    """
    return _posterior(knowledge, evidence, posterior.hypotheses)


def _posterior(knowledge: Knowledge, evidence: Evidence, known: Sequence[Hypothesis]) -> Posterior:
    """Return the posterior; the plans of known hypotheses are used again."""
    check_ids(knowledge, evidence)
    hypotheses, left_out = make_hypotheses(knowledge, evidence, known)
    one = np.ones((len(knowledge.faults), 1))
    summed = [hypothesis.sum(one) for hypothesis in hypotheses]
    log_evidence, share = _mix(np.array([log_total[0] for log_total, _ in summed]))
    now = sum(part * marginal[:, 0] for part, (_, marginal) in zip(share, summed, strict=True))
    log_prior = np.array([hypothesis.log_prior for hypothesis in hypotheses])
    prior = np.exp(log_prior) @ np.array([hypothesis.case.prior for hypothesis in hypotheses])
    log_luck = np.logaddexp.reduce([hypothesis.log_without_faults() for hypothesis in hypotheses])
    chances = dict(zip(knowledge.faults, np.asarray(now).tolist(), strict=True))
    ranked = [
        RankedFault(name, chance, before)
        for (name, chance), before in zip(chances.items(), prior.tolist(), strict=True)
    ]
    ranked.sort(key=lambda entry: (-entry.probability, -entry.prior, entry.id))
    too_many = tuple(Dropped(bit.label, "too many") for bit in left_out)
    return Posterior(
        ranked=tuple(ranked),
        log_evidence=log_evidence,
        error_bound=_error_bound(np.asarray(now), left_out, hypotheses),
        fit=log_evidence - float(log_luck),
        dropped=(*usable_observations(knowledge, evidence)[1], *too_many),
        processes={h.process: float(part) for h, part in zip(hypotheses, share, strict=True)},
        chances=chances,
        hypotheses=hypotheses,
    )


def compute_answer_effects(
    knowledge: Knowledge, posterior: Posterior, findings: Sequence[str]
) -> AnswerEffects:
    """Return what each answer to some questions would do, all in one sum.

    An absent finding only changes the weights of the faults, so every "no" is one more column
    of the batch. The "yes" follows from P(fault) = P(yes)·P(fault | yes) + P(no)·P(fault | no).

    Parameters
    ----------
    knowledge : Knowledge
    posterior : Posterior
        Of the evidence so far.
    findings : sequence of str, shape (questions,)
        Findings not observed yet.

    Returns
    -------
    AnswerEffects

    Raises
    ------
    UnknownIdError
        If a finding is not in the knowledge.
    """
    network = knowledge.network
    for finding in findings:
        if finding not in network.finding_at:
            raise UnknownIdError("finding", finding, network.finding_at)
    columns = [network.finding_at[finding] for finding in findings]
    factor = np.ones((len(network.fault_ids), 1 + len(columns)))
    factor[:, 1:] = 1.0 - network.link[:, columns]
    summed = [hypothesis.sum(factor) for hypothesis in posterior.hypotheses]
    log_evidence, _ = _mix(np.array([log_total[0] for log_total, _ in summed]))
    # Joint with the evidence: shape (batch,) and (faults, batch), summed over processes.
    chance = [np.exp(log_total - log_evidence) for log_total, _ in summed]
    joint = sum(
        part * np.where(part > 0.0, marginal, 0.0)
        for part, (_, marginal) in zip(chance, summed, strict=True)
    )
    joint = np.asarray(joint)
    unleaked = 1.0 - network.leak[columns]
    absent = np.clip(sum(chance)[1:] * unleaked, 0.0, 1.0)  # type: ignore[index]
    now = joint[:, 0]
    joint_absent = (joint[:, 1:] * unleaked).T
    with np.errstate(invalid="ignore", divide="ignore"):
        if_absent = joint_absent / absent[:, None]
        if_present = (now - joint_absent) / (1.0 - absent)[:, None]
    return AnswerEffects(
        findings=tuple(findings),
        present=1.0 - absent,
        now=now,
        if_present=np.clip(if_present, 0.0, 1.0),
        if_absent=np.clip(if_absent, 0.0, 1.0),
    )


def _mix(log_totals: Floats) -> tuple[float, Floats]:
    """Return the logarithm of the sum of exponentials, and the share of each term."""
    top = float(log_totals.max())
    if top == -math.inf:
        msg = "the evidence has probability 0: nothing in the knowledge can cause it"
        raise ImpossibleEvidenceError(msg)
    terms = np.exp(log_totals - top)
    return top + math.log(terms.sum()), terms / terms.sum()


def _error_bound(
    now: Floats, left_out: tuple[Bit, ...], hypotheses: tuple[Hypothesis, ...]
) -> float:
    """Return how far a posterior may be from its value with the bits left out.

    A bit whose likelihood varies by the ratio r over all sets of faults moves the odds of a
    fault by a factor between 1/r and r, whatever the other evidence.
    """
    if not left_out:
        return 0.0
    prior = np.max([hypothesis.case.prior for hypothesis in hypotheses], axis=0)
    ratio = math.prod(bit.odds_range(prior) for bit in left_out)
    chance = now[(now > 0.0) & (now < 1.0)]
    odds = chance / (1.0 - chance)
    # Written so that a ratio of infinity gives the bounds 1 and 0.
    highest = odds / (odds + 1.0 / ratio)
    lowest = odds / (odds + ratio)
    return float(np.max(np.concatenate((highest - chance, chance - lowest)), initial=0.0))
