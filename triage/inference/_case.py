"""Turns evidence into numbers: fault weights, and the bits the lattice has to keep.

Every piece of evidence is one noisy-OR finding, real or virtual:

* a finding surely absent multiplies the weight of each fault by 1 - link;
* a finding present, or seen with some doubt, is a *bit* with a likelihood pair;
* a tried remedy is a virtual finding, "it got better", whose links are the cure probabilities
  and whose leak is `LUCK`, so "nothing changed" is that finding absent, "cured" is it present,
  and "helped" is it present with doubt;
* silence about an apparent finding is the absence of a virtual finding "it was told", whose
  links and leak are those of the finding times `Evidence.telling`;
* risks, guesses and the text as a whole shift prior odds; the process, the material and the kind
  of machine make faults impossible.
"""

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.errors import UnknownIdError
from triage.evidence import Evidence, Observation, TriedRemedy
from triage.knowledge import (
    PROCESSES,
    Knowledge,
    applies_to,
    suits_machine,
    suits_material,
)
from triage.knowledge._model import Bools, Floats

# P(a print gets better after a remedy that cures none of its faults) [judgement: desk, 2026-11-25]
LUCK = 0.05
# How likely "it helped" is said when a fault was really cured, and when it was not
# [judgement: desk, 2026-11-25]
HELPED = (0.9, 0.3)
TRIED = "tried "  # begins the label of a remedy that was tried
# What a person's own guess does to the odds of that fault [judgement: desk, 2026-11-25]
GUESS_ODDS = 2.0


@dataclass(frozen=True, slots=True)
class Dropped:
    """An observation left out, and why: "other process", "contradictory" or "too many"."""

    finding: str
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Bit:
    """A finding, real or virtual, whose presence the lattice keeps track of.

    `link` has shape (faults,); `if_present` and `if_absent` are its likelihood pair.
    """

    label: str
    leak: float
    link: Floats
    if_present: float
    if_absent: float

    def log_by_leak(self) -> float:
        """Return the logarithm of its likelihood when no fault is linked to it."""
        return safe_log(self.leak * self.if_present + (1.0 - self.leak) * self.if_absent)

    def odds_range(self, prior: Floats) -> float:
        """Return the largest ratio between its likelihoods over all sets of possible faults."""
        least = self.leak
        most = 1.0 - (1.0 - self.leak) * float(np.prod(1.0 - self.link[prior > 0.0]))
        ends = [
            self.if_absent + chance * (self.if_present - self.if_absent) for chance in (least, most)
        ]
        return math.inf if min(ends) == 0.0 else max(ends) / min(ends)


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """One case under one process. Arrays have shape (faults,).

    `prior` is shifted by risks, guesses and the text, and 0 where a fault cannot occur; `weight`
    is the likelihood of all sure absences given that the fault is present; `log_constant` is the
    logarithm of what is common to all sets of faults. `absent` names the sure absences, findings
    and "tried …" of remedies that changed nothing.
    """

    prior: Floats
    weight: Floats
    bits: tuple[Bit, ...]
    log_constant: float
    absent: tuple[str, ...]

    def without(self, labels: Collection[str]) -> "Case":
        """Return the case without the bits of these labels."""
        bits = tuple(bit for bit in self.bits if bit.label not in labels)
        return replace(self, bits=bits)


def make_case(knowledge: Knowledge, evidence: Evidence, process: str) -> Case:
    """Return the numbers of a case under one process.

    Parameters
    ----------
    knowledge : Knowledge
    evidence : Evidence
        Its own process is not looked at.
    process : {"MEX", "VPP"}

    Returns
    -------
    Case
    """
    network = knowledge.network
    weight = np.ones(len(network.fault_ids))
    log_constant = 0.0
    bits: list[Bit] = []
    absent: list[str] = []
    for bit in list_looks(knowledge, evidence):
        if bit.if_present == bit.if_absent:
            log_constant += safe_log(bit.if_absent)
        elif bit.if_present > 0.0:
            bits.append(bit)
        else:
            absent.append(bit.label)
            weight = weight * (1.0 - bit.link)
            log_constant += safe_log(bit.if_absent * (1.0 - bit.leak))
    if evidence.telling > 0.0:
        untold = list_untold(knowledge, evidence)
        weight = weight * (1.0 - evidence.telling * network.link[:, untold]).prod(axis=1)
        log_constant += float(np.log1p(-evidence.telling * network.leak[untold]).sum())
    prior = shifted_prior(knowledge, evidence, process)
    return Case(prior, weight, tuple(bits), log_constant, tuple(absent))


def list_looks(knowledge: Knowledge, evidence: Evidence) -> tuple[Bit, ...]:
    """Return every piece of evidence as a noisy-OR finding with its likelihood pair."""
    return tuple(_looks(knowledge, evidence))


def _looks(knowledge: Knowledge, evidence: Evidence) -> Iterable[Bit]:
    network = knowledge.network
    for finding, (if_present, if_absent) in usable_observations(knowledge, evidence)[0].items():
        at = network.finding_at[finding]
        yield Bit(finding, float(network.leak[at]), network.link[:, at], if_present, if_absent)
    for tried in strongest_tried(evidence.tried):
        pair = {"no-change": (0.0, 1.0), "cured": (1.0, 0.0), "helped": HELPED}.get(tried.result)
        if pair:
            link = network.cure[network.action_at[tried.action]]
            yield Bit(f"{TRIED}{tried.action}", LUCK, link, *pair)


def list_untold(knowledge: Knowledge, evidence: Evidence) -> Bools:
    """Return which findings would show and were not spoken of, shape (findings,)."""
    network = knowledge.network
    untold = network.apparent.copy()
    untold[[network.finding_at[seen.finding] for seen in evidence.observations]] = False
    return untold


def strongest_tried(tried: Sequence[TriedRemedy]) -> tuple[TriedRemedy, ...]:
    """Return one entry for each remedy: the last that says what came of it."""
    last: dict[str, TriedRemedy] = {}
    for entry in tried:
        if entry.result != "unknown" or entry.action not in last:
            last[entry.action] = entry
    return tuple(last.values())


def shifted_prior(knowledge: Knowledge, evidence: Evidence, process: str) -> Floats:
    """Return the prior of each fault after process, material, machine, risks, guesses and text.

    Returns
    -------
    array, shape (faults,)
        0 where the fault cannot occur.
    """
    network = knowledge.network
    factor = np.ones(len(network.prior))
    for risk in dict.fromkeys(evidence.risks):
        for fault, ratio in knowledge.risks[risk].odds.items():
            factor[network.fault_at[fault]] *= ratio
    for fault in {guess.fault for guess in evidence.guesses}:
        factor[network.fault_at[fault]] *= GUESS_ODDS
    for fault, log_ratio in evidence.text.items():
        factor[network.fault_at[fault]] *= math.exp(log_ratio)
    # Odds times factor, written so that a prior of 1 stays 1.
    shifted = network.prior * factor / (1.0 - network.prior + network.prior * factor)
    prior = np.where(network.occurs[process], shifted, 0.0)
    if evidence.material is None and evidence.machine is None:
        return prior
    machine = None if evidence.machine is None else knowledge.machines[evidence.machine]
    for at, entry in enumerate(knowledge.faults.values()):
        if not (suits_material(entry, evidence.material) and suits_machine(entry, machine)):
            prior[at] = 0.0
    return prior


def usable_observations(
    knowledge: Knowledge, evidence: Evidence
) -> tuple[Mapping[str, tuple[float, float]], tuple[Dropped, ...]]:
    """Return the likelihood pair of each finding observed, and the observations left out.

    Several sources are taken as independent given the finding, so their pairs multiply. Within
    one source only the strongest word for presence and the strongest for absence count: saying
    a thing twice does not make it truer. A finding surely present and surely absent at once
    says nothing and is left out, as is a finding of another process.
    """
    strongest: dict[tuple[str, str, bool], Observation] = {}
    for seen in evidence.observations:
        key = (seen.finding, seen.source, seen.if_present >= seen.if_absent)
        if key not in strongest or _strength(seen) > _strength(strongest[key]):
            strongest[key] = seen
    pairs: dict[str, tuple[float, float]] = {}
    dropped: dict[str, Dropped] = {}
    for seen in strongest.values():
        finding = seen.finding
        if not applies_to(knowledge.findings[finding].process, evidence.process):
            dropped[finding] = Dropped(finding, "other process")
            continue
        if_present, if_absent = pairs.get(finding, (1.0, 1.0))
        pairs[finding] = (if_present * seen.if_present, if_absent * seen.if_absent)
    for finding in [name for name, pair in pairs.items() if pair == (0.0, 0.0)]:
        del pairs[finding]
        dropped[finding] = Dropped(finding, "contradictory")
    return pairs, tuple(dropped.values())


def safe_log(value: float) -> float:
    """Return the natural logarithm, -inf for 0."""
    return math.log(value) if value > 0.0 else -math.inf


def _strength(seen: Observation) -> float:
    """Return how far the likelihood pair is from saying nothing."""
    if seen.is_certain:
        return math.inf
    return abs(math.log(seen.if_present / seen.if_absent))


def check_ids(knowledge: Knowledge, evidence: Evidence) -> None:
    """Raise UnknownIdError for the first id of the evidence that the knowledge lacks."""
    process = () if evidence.process is None else (evidence.process,)
    material = () if evidence.material is None else (evidence.material,)
    machine = () if evidence.machine is None else (evidence.machine,)
    for kind, names, valid in (
        ("process", process, PROCESSES),
        ("material", material, knowledge.materials),
        ("machine", machine, knowledge.machines),
        ("finding", [seen.finding for seen in evidence.observations], knowledge.findings),
        ("risk", evidence.risks, knowledge.risks),
        ("action", [tried.action for tried in evidence.tried], knowledge.actions),
        ("fault", [guess.fault for guess in evidence.guesses], knowledge.faults),
        ("fault", evidence.text, knowledge.faults),
    ):
        for name in names:
            if name not in valid:
                raise UnknownIdError(kind, name, valid)
