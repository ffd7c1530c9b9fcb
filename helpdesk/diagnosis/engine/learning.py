"""The adapter to what the engine learns: the desk's values in, plain JSON-able values out."""

import functools
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from helpdesk.diagnosis.engine.catalogue import action_info, fault_info, finding_info
from helpdesk.diagnosis.engine.inputs import material_code
from helpdesk.diagnosis.engine.knowledge import (
    expert_diagnoser,
    expert_knowledge,
    revised_knowledge,
)
from helpdesk.diagnosis.errors import UnknownThingError
from helpdesk.diagnosis.models import KnowledgeRevision
from triage.knowledge import Knowledge
from triage.learning import (
    BASIS_WEIGHT,
    EVEN_LOOKS,
    PUBLISHED_LOOKS,
    Counts,
    Lesson,
    NumberChange,
    Tally,
    compare,
    learn,
    list_numbers,
    list_surprises,
    revise,
    score_prequential,
)

# Times the desk learns anew while foresight is scored; each takes some thirty milliseconds.
MOST_BLOCKS = 200  # [judgement: desk, 2026-11-25]
PUBLISHED = "published"  # stands for every key of a published source


@dataclass(frozen=True, kw_only=True)
class LessonInput:
    """What one case teaches, in ids: nothing a person wrote, nothing of who they are.

    `basis` is "cured", "confirmed" or "accepted"; empty texts are what is not known.
    """

    id: str
    process: str
    material: str
    machine: str
    faults: tuple[str, ...]
    findings: Mapping[str, bool]
    risks: tuple[str, ...]
    remedies: Mapping[str, bool]
    basis: str


@dataclass(frozen=True)
class Learned:
    """What lessons make of the expert's knowledge; all of it is plain JSON."""

    expert_version: str
    version: str
    counts: dict[str, Any]
    lesson_count: int
    prequential: dict[str, Any]
    missing_links: list[dict[str, Any]]


@dataclass(frozen=True)
class Foresight:
    """How well one verdict was foreseen: log-loss in bits by the expert and by what was learned."""

    lesson: str
    expert_bits: float
    learned_bits: float


@dataclass(frozen=True)
class MissingLink:
    """A finding that keeps company with a fault although nothing links them."""

    fault: str
    finding: str
    lessons: int
    present: int
    expected: float


@dataclass(frozen=True)
class ChangeView:
    """A number that differs between two revisions, with the observations behind the later one.

    It was so in `so` of `looks` looks, each counted by the weight of its case.
    """

    kind: str
    name: str
    before: float
    after: float
    so: float
    looks: float
    source: str


@dataclass(frozen=True)
class BasisWeight:
    """How much a case counts by what its verdict rests on."""

    basis: str
    weight: float


@dataclass(frozen=True)
class SourceLooks:
    """How many looks an expert's number is worth at one half, by its source."""

    source: str
    looks: float


@dataclass(frozen=True)
class LearningWeights:
    """The constants that say how fast the desk learns."""

    bases: tuple[BasisWeight, ...]
    looks: tuple[SourceLooks, ...]
    accepted: float


def learn_from(lessons: Sequence[LessonInput]) -> Learned:
    """Return what all lessons teach; what the knowledge does not hold is noted and left out."""
    expert = expert_knowledge()
    taken = [_lesson(lesson) for lesson in lessons]
    counts = learn(expert, taken)
    revised = revise(expert, counts)
    block = max(1, math.ceil(len(taken) / MOST_BLOCKS))
    return Learned(
        expert_version=expert.version,
        version=revised.version,
        counts=counts.to_json(),
        lesson_count=counts.lessons,
        prequential=score_prequential(expert, taken, block=block).to_json(),
        missing_links=[asdict(pair) for pair in list_surprises(revised, taken)],
    )


def compare_numbers(
    before: KnowledgeRevision | None, after: KnowledgeRevision | None
) -> tuple[ChangeView, ...]:
    """Return the numbers in which two revisions differ, largest effect first.

    None stands for the expert's numbers. Both are laid over today's expert knowledge.
    """
    if before == after:
        return ()
    expert = expert_knowledge()
    moved = compare(*(_numbers_of(revision) for revision in (before, after)))
    stated = list_numbers(expert)
    behind = after or before  # going back to the expert's, the observations are those given up
    tallies = Counts.from_json(behind.counts, expert).tallies if behind else {}
    found = []
    for change in moved:
        tally = tallies.get(change.number, Tally(0.0, 0.0))
        found.append(
            ChangeView(
                kind=change.kind,
                name=_name_number(change),
                before=change.before,
                after=change.after,
                so=tally.successes,
                looks=tally.successes + tally.failures,
                source=_source_kind(stated[change.number].source),
            )
        )
    return tuple(found)


def list_skipped(revision: KnowledgeRevision) -> list[str]:
    """Return what a revision could not learn from, or no longer can, as sentences."""
    counts = Counts.from_json(revision.counts, expert_knowledge())
    return [
        ", ".join(filter(None, (f"Case {note.lesson}" if note.lesson else "", note.part)))
        + f": {note.reason}"
        for note in counts.skipped
    ]


def list_weights() -> LearningWeights:
    """Return the engine's constants of learning."""
    return LearningWeights(
        bases=tuple(BasisWeight(basis, weight) for basis, weight in BASIS_WEIGHT.items()),
        looks=(
            *(SourceLooks(source, looks) for source, looks in EVEN_LOOKS.items()),
            SourceLooks(PUBLISHED, PUBLISHED_LOOKS),
        ),
        accepted=BASIS_WEIGHT["accepted"],
    )


def read_prequential(stored: Mapping[str, Any]) -> list[Foresight]:
    """Return how well each case that can judge was foreseen, in the order of the verdicts."""
    return [
        Foresight(lesson, expert, learned) for lesson, expert, learned, *_ in stored["foreseen"]
    ]


def read_missing_links(stored: Sequence[Mapping[str, Any]]) -> list[MissingLink]:
    """Return stored pairs in words; those the knowledge holds no more are left out."""
    knowledge = expert_knowledge()
    return [
        MissingLink(
            fault=fault_info(pair["fault"]).name,
            finding=finding_info(pair["finding"]).name,
            lessons=pair["lessons"],
            present=pair["present"],
            expected=pair["expected"],
        )
        for pair in stored
        if pair["fault"] in knowledge.faults and pair["finding"] in knowledge.findings
    ]


def cures_any(action_id: str, faults: Collection[str]) -> bool:
    """Return True when the knowledge says that an action may cure one of some faults."""
    try:
        return not set(action_info(action_id).cures).isdisjoint(faults)
    except UnknownThingError:
        return False


@functools.lru_cache(maxsize=500)
def resolve_material(words: str) -> str:
    """Return the code of a material written freely, or ""."""
    return material_code(expert_diagnoser(), words) or ""


def _numbers_of(revision: KnowledgeRevision | None) -> Knowledge:
    return revised_knowledge(revision) if revision else expert_knowledge()


def _name_number(change: NumberChange) -> str:
    """Return what a number is about, in words."""
    first, *rest = change.ids
    if change.kind == "prior":
        return fault_info(first).name
    if change.kind == "leak":
        return finding_info(first).name
    if change.kind == "link":
        return f"{finding_info(rest[0]).name}, by: {fault_info(first).name}"
    return f"{action_info(first).name}, for: {fault_info(rest[0]).name}"


def _source_kind(source: str) -> str:
    return source if source in EVEN_LOOKS else PUBLISHED


def _lesson(given: LessonInput) -> Lesson:
    """Return a lesson as the engine takes it."""
    return Lesson(
        id=given.id,
        process=given.process or None,
        material=given.material or None,
        machine=given.machine or None,
        faults=frozenset(given.faults),
        findings=given.findings,
        risks=given.risks,
        remedies=given.remedies,
        basis=given.basis,  # type: ignore[arg-type] # the engine refuses any other word
    )
