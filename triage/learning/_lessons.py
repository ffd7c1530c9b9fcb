"""What a settled case teaches, and which parts of it can be used."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

from triage.errors import InputError, suggest
from triage.evidence import Evidence, Observation
from triage.inference._case import shifted_prior
from triage.knowledge import PROCESSES, Knowledge, applies_to

Basis = Literal["cured", "confirmed", "accepted"]

# How much a lesson counts, by what its verdict rests on: a cure measured after the step, a second
# look that did not follow the suggestion, a suggestion that was accepted. The last is where a
# network would learn its own errors; tests/benchmarks/bench_learning.py shows what each weight
# does. [judgement: desk, 2026-11-25]
BASIS_WEIGHT: Mapping[str, float] = MappingProxyType(
    {"cured": 1.0, "confirmed": 0.6, "accepted": 0.1}
)
# Bases whose verdict does not come from the suggestion, so that they can judge it.
INDEPENDENT = ("cured", "confirmed")


@dataclass(frozen=True, slots=True)
class Lesson:
    """One settled case.

    Parameters
    ----------
    id : str
        Names the case; a case teaches once.
    process : {"MEX", "VPP"} or None
    material : str or None
        Material code of the knowledge.
    faults : frozenset of str
        The faults of the verdict; empty when it names none.
    findings : mapping of str to bool
        Findings that were *looked for*, present or absent. What nobody looked for is left out,
        and so is what was only read from a text: people write of what is there, hardly of what
        is not, and links learned from presences alone rise to 1.
    risks : tuple of str
        Circumstances that held.
    remedies : mapping of str to bool
        Remedies that were tried, and whether each cured the print.
    basis : {"cured", "confirmed", "accepted"}
        What the verdict rests on, see `BASIS_WEIGHT`.
    machine : str or None
        Kind of machine, by its id in the knowledge.

    Raises
    ------
    InputError
        If the basis is not one of the three.
    """

    id: str
    process: str | None
    material: str | None
    faults: frozenset[str]
    findings: Mapping[str, bool]
    risks: tuple[str, ...]
    remedies: Mapping[str, bool]
    basis: Basis
    machine: str | None = None

    def __post_init__(self) -> None:
        if self.basis not in BASIS_WEIGHT:
            hint = suggest(str(self.basis), BASIS_WEIGHT)
            msg = f"lesson '{self.id}': basis '{self.basis}' is none of {', '.join(BASIS_WEIGHT)}"
            raise InputError(msg + hint)

    def circumstances(self) -> Evidence:
        """Return what shifts the priors: process, material, machine and risks."""
        return Evidence(
            process=self.process, material=self.material, machine=self.machine, risks=self.risks
        )

    def evidence(self) -> Evidence:
        """Return what was known before the verdict: everything but what the remedies did."""
        looks = (
            Observation(name, "present" if is_so else "absent")
            for name, is_so in self.findings.items()
        )
        return replace(self.circumstances(), observations=tuple(looks))


@dataclass(frozen=True, slots=True)
class Skipped:
    """Something that could not be learned from.

    `lesson` is the id of the lesson; `part` names what was left out of it, "" for the whole
    lesson; `reason` says why.
    """

    lesson: str
    part: str
    reason: str


@dataclass(frozen=True, slots=True)
class Sifted:
    """The usable lessons, reduced to what the knowledge holds, and what was left out."""

    lessons: tuple[Lesson, ...]
    skipped: tuple[Skipped, ...]


def sift_lessons(knowledge: Knowledge, lessons: Iterable[Lesson]) -> Sifted:
    """Return the lessons that can be used with a knowledge that may have changed since.

    A lesson is skipped whole when it names no fault or an unknown one, when its faults cannot
    occur together or in its process, material and machine, or when its id came before. Unknown
    findings, risks, remedies, materials and machines are left out alone.

    Parameters
    ----------
    knowledge : Knowledge
    lessons : iterable of Lesson

    Returns
    -------
    Sifted
    """
    kept: dict[str, Lesson] = {}
    skipped: list[Skipped] = []
    for lesson in lessons:
        reason = "this lesson came before" if lesson.id in kept else _refusal(knowledge, lesson)
        if reason:
            skipped.append(Skipped(lesson.id, "", reason))
            continue
        usable, left_out = _reduce(knowledge, lesson)
        if impossible := _impossible(knowledge, usable):
            skipped.append(Skipped(lesson.id, "", impossible))
            continue
        kept[lesson.id] = usable
        skipped += left_out
    return Sifted(tuple(kept.values()), tuple(skipped))


def _refusal(knowledge: Knowledge, lesson: Lesson) -> str:
    """Return why nothing of a lesson can be used, or an empty string."""
    if not lesson.faults:
        return "its verdict names no fault"
    for fault in sorted(lesson.faults):
        if fault not in knowledge.faults:
            return f"unknown fault '{fault}'{suggest(fault, knowledge.faults)}"
    if lesson.process is not None and lesson.process not in PROCESSES:
        return f"unknown process '{lesson.process}'{suggest(lesson.process, PROCESSES)}"
    if not _fitting_processes(knowledge, lesson):
        return "its faults belong to different processes"
    return ""


def _fitting_processes(knowledge: Knowledge, lesson: Lesson) -> list[str]:
    """Return the processes in which all faults of a lesson occur."""
    own = [knowledge.faults[fault].process for fault in lesson.faults]
    return [process for process in PROCESSES if all(applies_to(name, process) for name in own)]


def _reduce(knowledge: Knowledge, lesson: Lesson) -> tuple[Lesson, list[Skipped]]:
    """Return a lesson with the names the knowledge holds, and what was left out."""
    left_out: list[Skipped] = []

    def known(kind: str, names: Iterable[str], valid: Mapping[str, object]) -> list[str]:
        """Return the names that are valid, noting the others."""
        found = []
        for name in names:
            if name in valid:
                found.append(name)
            else:
                reason = f"not in the knowledge{suggest(name, valid)}"
                left_out.append(Skipped(lesson.id, f"{kind} {name}", reason))
        return found

    process = lesson.process
    if process is None and len(fitting := _fitting_processes(knowledge, lesson)) == 1:
        process = fitting[0]
    findings = {}
    for name in known("finding", lesson.findings, knowledge.findings):
        if applies_to(knowledge.findings[name].process, process):
            findings[name] = bool(lesson.findings[name])
        else:
            left_out.append(Skipped(lesson.id, f"finding {name}", "belongs to another process"))
    remedies = known("remedy", lesson.remedies, knowledge.actions)
    material = [] if lesson.material is None else [lesson.material]
    machine = [] if lesson.machine is None else [lesson.machine]
    reduced = replace(
        lesson,
        process=process,
        material=next(iter(known("material", material, knowledge.materials)), None),
        machine=next(iter(known("machine", machine, knowledge.machines)), None),
        findings=findings,
        risks=tuple(known("risk", lesson.risks, knowledge.risks)),
        remedies={name: bool(lesson.remedies[name]) for name in remedies},
    )
    return reduced, left_out


def _impossible(knowledge: Knowledge, lesson: Lesson) -> str:
    """Return why the faults of a lesson cannot occur in its circumstances, or an empty string."""
    circumstances = lesson.circumstances()
    for process in PROCESSES if lesson.process is None else (lesson.process,):
        prior = shifted_prior(knowledge, circumstances, process)
        cannot = [f for f in sorted(lesson.faults) if not prior[knowledge.network.fault_at[f]]]
        if not cannot:
            return ""
    return f"fault '{cannot[0]}' cannot occur in this process, material or machine"
