"""Cases drawn from a network itself: faults by their priors, findings by the noisy-OR.

What is looked at is chosen without regard to the outcome, and doubt is drawn by the very
likelihood pair the evidence then carries. A posterior is therefore calibrated on these cases
exactly when it is computed rightly; they say nothing about how real people report.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from triage.evidence import Evidence, Observation, TriedRemedy
from triage.inference import LUCK, PROCESS_PRIOR
from triage.inference._case import shifted_prior
from triage.knowledge import Knowledge

# How a doubtful look may turn out: what it says of a finding that is there, and of one that is not.
DOUBTS = ((0.9, 0.1), (0.8, 0.2), (0.7, 0.4))


@dataclass(frozen=True, slots=True)
class Habits:
    """How much of a case comes to be known.

    `looked` findings are looked at, `doubtful` of them with doubt; each apparent finding that
    is there is told unasked with probability `telling`; `risks` circumstances hold, `tried`
    remedies were tried; the process stays unknown with probability `process_unknown`.
    """

    looked: int = 20
    doubtful: int = 5
    telling: float = 0.2
    risks: int = 1
    tried: int = 1
    process_unknown: float = 0.1


@dataclass(frozen=True, slots=True)
class DrawnCase:
    """The truth of one case, and what is known of it.

    `findings` holds every finding that can be looked for; `cured` whether each remedy that was
    tried made the print better, by luck or by curing.
    """

    process: str
    faults: frozenset[str]
    findings: Mapping[str, bool]
    cured: Mapping[str, bool]
    evidence: Evidence


def draw_cases(
    knowledge: Knowledge, seed: int, count: int, habits: Habits | None = None
) -> Iterator[DrawnCase]:
    """Yield cases drawn from the network; the same seed gives the same cases."""
    generator = np.random.default_rng(seed)
    for _ in range(count):
        yield draw_case(knowledge, generator, habits or Habits())


def draw_case(knowledge: Knowledge, generator: np.random.Generator, habits: Habits) -> DrawnCase:
    """Return one case: a process, its faults, their findings, and a part of it as evidence."""
    network = knowledge.network
    process = str(generator.choice(list(PROCESS_PRIOR), p=list(PROCESS_PRIOR.values())))
    told_process = None if generator.random() < habits.process_unknown else process
    risks = _pick(
        generator, [r.id for r in knowledge.risks.values() if r.process == process], habits.risks
    )
    prior = shifted_prior(knowledge, Evidence(process=process, risks=risks), process)
    has = generator.random(len(prior)) < prior
    absent = (1.0 - network.leak) * np.where(has[:, None], 1.0 - network.link, 1.0).prod(axis=0)
    is_so = generator.random(len(absent)) >= absent
    # Where the process is not known its findings cannot be told from those of the other.
    visible = network.shows[process] | (told_process is None)
    cured = _try_remedies(knowledge, generator, has, process, habits.tried)
    results: Mapping[bool, str] = {True: "cured", False: "no-change"}
    return DrawnCase(
        process=process,
        faults=frozenset(np.array(network.fault_ids)[has].tolist()),
        findings={network.finding_ids[at]: bool(is_so[at]) for at in np.flatnonzero(visible)},
        cured=cured,
        evidence=Evidence(
            process=told_process,
            observations=tuple(_look(knowledge, generator, visible, is_so, habits)),
            risks=risks,
            tried=tuple(TriedRemedy(name, results[better]) for name, better in cured.items()),  # type: ignore[arg-type]
            telling=habits.telling,
        ),
    )


def _look(
    knowledge: Knowledge,
    generator: np.random.Generator,
    visible: np.ndarray,
    is_so: np.ndarray,
    habits: Habits,
) -> Iterator[Observation]:
    """Yield what is looked at, then what else is told unasked."""
    network = knowledge.network
    places = np.flatnonzero(visible)
    looked = generator.choice(places, min(habits.looked, len(places)), replace=False)
    for number, at in enumerate(looked):
        finding = network.finding_ids[at]
        if number >= habits.doubtful:
            yield Observation(finding, "present" if is_so[at] else "absent")
            continue
        yes, no = DOUBTS[generator.integers(len(DOUBTS))]
        if generator.random() < (yes if is_so[at] else no):
            yield Observation(finding, "present", yes, no)
        else:
            yield Observation(finding, "absent", 1.0 - yes, 1.0 - no)
    told = visible & is_so & network.apparent & (generator.random(len(is_so)) < habits.telling)
    told[looked] = False
    for at in np.flatnonzero(told):
        yield Observation(network.finding_ids[at], "present", source="text")


def _try_remedies(
    knowledge: Knowledge,
    generator: np.random.Generator,
    has: np.ndarray,
    process: str,
    count: int,
) -> dict[str, bool]:
    """Return some remedies and whether each made the print better."""
    network = knowledge.network
    remedies = np.flatnonzero(network.does[process] & network.kinds["remedy"])
    tried = _pick(generator, [network.action_ids[at] for at in remedies], count)
    cured = {}
    for name in tried:
        unchanged = (1.0 - LUCK) * (1.0 - network.cure[network.action_at[name]][has]).prod()
        cured[name] = bool(generator.random() >= unchanged)
    return cured


def _pick(generator: np.random.Generator, names: list[str], most: int) -> tuple[str, ...]:
    """Return up to `most` of the names, each set of them equally likely."""
    places = generator.permutation(len(names))[: int(generator.integers(most + 1))]
    return tuple(names[at] for at in places)
