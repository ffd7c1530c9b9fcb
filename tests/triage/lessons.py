"""A clinic that is not there: lessons drawn from a truth the experts do not know.

People tell some of what they see. The network in use then suspects faults, a reviewer looks for
what those would show, and confirms faults: by judging for themselves, or by accepting the
suggestion whatever is true. A remedy is tried, and sometimes its effect is told.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.triage.draws import DrawnCase, Habits, draw_case
from triage.evidence import Evidence, Observation
from triage.inference import LUCK, Posterior, compute_posterior
from triage.knowledge import Action, Knowledge, Link, build_knowledge
from triage.learning import Lesson

SUSPECTS = 5  # faults a reviewer keeps in mind
LEAST_CURE = 0.05


@dataclass(frozen=True, slots=True)
class Clinic:
    """How a clinic works. Everything but `looked` is a probability.

    `telling`: that somebody tells unasked of a finding that is there. `looked`: findings looked
    for. `misread`: that a look is wrong. `accepts`: that the reviewer takes the suggestion
    without a look of their own; `notices`: that they see nevertheless when it is wrong. `errs`:
    that a reviewer's own verdict is wrong. `overlooks`: that a further fault stays unnamed.
    `follows`: that the effect of the remedy is told.
    """

    telling: float = 0.3
    looked: int = 12
    misread: float = 0.0
    accepts: float = 0.0
    notices: float = 0.0
    errs: float = 0.0
    overlooks: float = 0.0
    follows: float = 0.5


CAREFUL = Clinic()
REALISTIC = Clinic(misread=0.03, accepts=0.6, notices=0.5, errs=0.1, overlooks=0.5)
CREDULOUS = replace(REALISTIC, notices=0.0)


@dataclass(frozen=True, slots=True)
class DrawnLesson:
    """A lesson, what the network in use knew, and the truth."""

    lesson: Lesson
    evidence: Evidence
    faults: frozenset[str]


def draw_lessons(
    truth: Knowledge,
    guide: Knowledge,
    generator: np.random.Generator,
    count: int,
    clinic: Clinic = CAREFUL,
) -> Iterator[DrawnLesson]:
    """Yield lessons of cases that have a fault, as a clinic makes them that uses `guide`."""
    habits = Habits(0, 0, clinic.telling, risks=2, tried=0, process_unknown=0.0)
    for at in range(count):
        case = draw_case(truth, generator, habits)
        while not case.faults:
            case = draw_case(truth, generator, habits)
        yield _make_lesson(truth, guide, generator, clinic, case, f"{at}")


def _make_lesson(
    truth: Knowledge,
    guide: Knowledge,
    generator: np.random.Generator,
    clinic: Clinic,
    case: DrawnCase,
    name: str,
) -> DrawnLesson:
    """Return the lesson that a case becomes."""
    first = compute_posterior(guide, case.evidence)
    findings = {
        finding: case.findings[finding] != bool(generator.random() < clinic.misread)
        for finding in _choose_looks(guide, first, case, clinic.looked)
    }
    told = [seen for seen in case.evidence.observations if seen.finding not in findings]
    looks = [Observation(f, "present" if is_so else "absent") for f, is_so in findings.items()]
    evidence = replace(case.evidence, observations=(*told, *looks))
    ranked = compute_posterior(guide, evidence).ranked
    notices = ranked[0].id not in case.faults and generator.random() < clinic.notices
    accepted = not notices and bool(generator.random() < clinic.accepts)
    own = _judge(generator, clinic, case, [fault.id for fault in ranked])
    verdict = frozenset({ranked[0].id}) if accepted else own
    remedies = _try_remedy(truth, guide, generator, clinic, case, sorted(verdict)[0])
    unmeasured = "accepted" if accepted else "confirmed"
    lesson = Lesson(
        id=name,
        process=case.process,
        material=None,
        faults=verdict,
        findings=findings,
        risks=case.evidence.risks,
        remedies=remedies,
        basis="cured" if any(remedies.values()) else unmeasured,  # type: ignore[arg-type]
    )
    return DrawnLesson(lesson, evidence, case.faults)


def _choose_looks(guide: Knowledge, posterior: Posterior, case: DrawnCase, count: int) -> list[str]:
    """Return what the suspected faults would show, the most telling first."""
    network = guide.network
    suspects = posterior.ranked[:SUSPECTS]
    rows = [network.fault_at[fault.id] for fault in suspects]
    chance = np.array([fault.probability for fault in suspects])
    worth = (chance[:, None] * network.link[rows]).max(axis=0)
    order = [network.finding_ids[at] for at in np.argsort(-worth, kind="stable")]
    return [finding for finding in order if finding in case.findings][:count]


def _judge(
    generator: np.random.Generator, clinic: Clinic, case: DrawnCase, suspects: Sequence[str]
) -> frozenset[str]:
    """Return the faults a reviewer names who looks for themselves."""
    faults = sorted(case.faults)
    named = [faults.pop(int(generator.integers(len(faults))))]
    named += [fault for fault in faults if generator.random() >= clinic.overlooks]
    if generator.random() < clinic.errs:
        wrong = [fault for fault in suspects if fault not in case.faults][:SUSPECTS]
        named[0] = wrong[int(generator.integers(len(wrong)))]
    return frozenset(named)


def _try_remedy(
    truth: Knowledge,
    guide: Knowledge,
    generator: np.random.Generator,
    clinic: Clinic,
    case: DrawnCase,
    fault: str,
) -> dict[str, bool]:
    """Return the likeliest remedy of a fault with its effect, or nothing when none was told."""
    cures = guide.network.cure[:, guide.network.fault_at[fault]]
    if not len(cures):
        return {}
    at = int(np.argmax(cures))
    has = [truth.network.fault_at[name] for name in case.faults]
    unchanged = (1.0 - LUCK) * (1.0 - truth.network.cure[at, has]).prod()
    cured = bool(generator.random() >= unchanged)
    if cures[at] < LEAST_CURE or generator.random() >= clinic.follows:
        return {}
    return {guide.network.action_ids[at]: cured}


def perturb(knowledge: Knowledge, generator: np.random.Generator, spread: float) -> Knowledge:
    """Return the knowledge with normal noise on the log odds of every number.

    `spread` is the standard deviation; 0.7 multiplies or divides odds by 2.
    """

    def moved(value: float) -> float:
        noise = float(generator.normal(0.0, spread))
        return float(1.0 / (1.0 + (1.0 - value) / value * np.exp(-noise)))

    def with_cures(action: Action) -> Action:
        return replace(action, cures={name: moved(p) for name, p in action.cures.items()})

    return build_knowledge(
        faults=[replace(f, prior=moved(f.prior)) for f in knowledge.faults.values()],
        findings=[replace(f, leak=moved(f.leak)) for f in knowledge.findings.values()],
        links=[Link(x.fault, x.finding, moved(x.p), x.source) for x in knowledge.links],
        risks=knowledge.risks.values(),
        actions=[with_cures(action) for action in knowledge.actions.values()],
        dangers=knowledge.dangers.values(),
        materials=knowledge.materials.values(),
        machines=knowledge.machines.values(),
    )


def root_mean_square(before: Knowledge, after: Knowledge, kind: str) -> float:
    """Return how far apart the numbers of a kind are, as a standard deviation of log odds."""
    pairs = numbers_of_kind(before, kind), numbers_of_kind(after, kind)
    first, second = (np.log(values / (1.0 - values)) for values in pairs)
    return float(np.sqrt(np.mean((first - second) ** 2)))


def numbers_of_kind(knowledge: Knowledge, kind: str) -> NDArray[np.float64]:
    """Return all numbers of a kind, in the order of the knowledge."""
    network = knowledge.network
    if kind in ("prior", "leak"):
        return network.prior if kind == "prior" else network.leak
    table = network.link if kind == "link" else network.cure
    return table[table > 0.0]
