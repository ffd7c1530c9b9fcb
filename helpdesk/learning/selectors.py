"""Reading revisions: the list, one of them, two compared, and what is in force."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean

from helpdesk.cases.models import Case
from helpdesk.core.models import Job, JobState
from helpdesk.diagnosis.engine import (
    ChangeView,
    Foresight,
    LearningWeights,
    MissingLink,
    compare_numbers,
    knowledge_version,
    list_skipped,
    list_weights,
    read_missing_links,
    read_prequential,
)
from helpdesk.diagnosis.models import KnowledgeRevision, RevisionSwitch, Verdict
from helpdesk.learning.curve import Curve, draw_curve
from helpdesk.learning.lessons import ACCEPTED, CONFIRMED, CURED, count_judged_cases

LEARNING = "learn-revision"  # kind of the job that makes a revision
EXPERT = 0  # stands for the expert's numbers where a revision is named by its number
MOST_CHANGES = 25  # numbers shown of a comparison, largest effect first
MOST_EVENTS = 30
MOST_SURPRISES = 8
LEAST_SURPRISE_BITS = 4.0  # as if thought one in sixteen [judgement: desk, 2026-11-25]
EXPERT_WORDS = "The expert’s numbers"
BASIS_WORDS: Mapping[str, str] = {CURED: "cured", CONFIRMED: "confirmed", ACCEPTED: "accepted"}


@dataclass(frozen=True)
class RevisionRow:
    """A revision as the list shows it."""

    revision: KnowledgeRevision
    is_in_force: bool
    is_outdated: bool  # learned on an older version of the expert's knowledge
    bases: Sequence[tuple[str, int]]
    expert_bits: float | None  # mean log-loss a lesson; None without a lesson that can judge
    learned_bits: float | None


@dataclass(frozen=True)
class LearningEvent:
    """One line of the history: a revision made, or put in force."""

    at: datetime.datetime
    what: str
    who: str
    why: str


@dataclass(frozen=True)
class Overview:
    """Everything the list of revisions shows."""

    rows: Sequence[RevisionRow]
    switch: RevisionSwitch | None
    judged_cases: int
    is_learning: bool
    trouble: str
    weights: LearningWeights
    events: Sequence[LearningEvent]

    @property
    def in_force(self) -> KnowledgeRevision | None:
        """Return the revision in force, None for the expert's numbers alone."""
        return self.switch.revision if self.switch else None


@dataclass(frozen=True)
class Comparison:
    """Where two sets of numbers differ, largest effect first; None is the expert's."""

    before: KnowledgeRevision | None
    after: KnowledgeRevision | None
    changes: Sequence[ChangeView]
    count: int


@dataclass(frozen=True)
class Surprise:
    """A case whose verdict the learned numbers did not foresee; the more bits, the less."""

    case_id: int
    title: str
    faults: str
    bits: float


@dataclass(frozen=True)
class RevisionPage:
    """Everything the page of one revision shows."""

    row: RevisionRow
    curve: Curve | None
    comparison: Comparison
    surprises: Sequence[Surprise]
    missing_links: Sequence[MissingLink]
    skipped: Sequence[str]


def get_overview() -> Overview:
    """Return what the list of revisions shows."""
    job = Job.objects.filter(kind=LEARNING).order_by("-pk").first()
    is_open = job is not None and job.state in (JobState.WAITING, JobState.RUNNING)
    return Overview(
        rows=list_revisions(),
        switch=_find_switch(),
        judged_cases=count_judged_cases(),
        is_learning=is_open,
        trouble=job.last_error if job and job.state != JobState.DONE else "",
        weights=list_weights(),
        events=list_history(),
    )


def list_revisions() -> list[RevisionRow]:
    """Return the revisions, newest first, without their counts."""
    in_force, version = find_in_force(), knowledge_version()
    found = KnowledgeRevision.objects.defer("counts").order_by("-number")
    return [_row(revision, in_force, version) for revision in found]


def list_numbered() -> list[KnowledgeRevision]:
    """Return the revisions by number."""
    return list(KnowledgeRevision.objects.order_by("number"))


def find_newest() -> KnowledgeRevision | None:
    """Return the revision made last, or None before the first."""
    return KnowledgeRevision.objects.order_by("-number").first()


def find_in_force() -> KnowledgeRevision | None:
    """Return the revision in force, or None while the expert's numbers stand alone."""
    switch = _find_switch()
    return switch.revision if switch else None


def list_history() -> list[LearningEvent]:
    """Return what happened last, newest first."""
    made = KnowledgeRevision.objects.defer("counts", "prequential").order_by("-pk")[:MOST_EVENTS]
    switched = RevisionSwitch.objects.select_related("revision").order_by("-pk")[:MOST_EVENTS]
    events = [LearningEvent(r.made_at, f"{r} made", r.made_by_name, r.note) for r in made]
    events += [
        LearningEvent(s.at, f"{s.revision or EXPERT_WORDS} in force", s.by_name, s.why)
        for s in switched
    ]
    return sorted(events, key=lambda event: event.at, reverse=True)[:MOST_EVENTS]


def get_revision_page(revision: KnowledgeRevision) -> RevisionPage:
    """Return what the page of one revision shows."""
    steps = read_prequential(revision.prequential)
    return RevisionPage(
        row=_row(revision, find_in_force(), knowledge_version()),
        curve=draw_curve([s.expert_bits for s in steps], [s.learned_bits for s in steps]),
        comparison=get_comparison(None, revision),
        surprises=_list_surprises(steps),
        missing_links=read_missing_links(revision.missing_links),
        skipped=list_skipped(revision),
    )


def get_comparison(before: KnowledgeRevision | None, after: KnowledgeRevision | None) -> Comparison:
    """Return the numbers in which two revisions differ most; None is the expert's."""
    changes = compare_numbers(before, after)
    return Comparison(before, after, changes[:MOST_CHANGES], len(changes))


def _row(
    revision: KnowledgeRevision, in_force: KnowledgeRevision | None, version: str
) -> RevisionRow:
    """Return a revision as the list shows it."""
    steps = read_prequential(revision.prequential)
    return RevisionRow(
        revision=revision,
        is_in_force=revision == in_force,
        is_outdated=revision.expert_version != version,
        bases=[(words, revision.bases.get(basis, 0)) for basis, words in BASIS_WORDS.items()],
        expert_bits=fmean(s.expert_bits for s in steps) if steps else None,
        learned_bits=fmean(s.learned_bits for s in steps) if steps else None,
    )


def _find_switch() -> RevisionSwitch | None:
    """Return the newest switch."""
    return RevisionSwitch.objects.select_related("revision").order_by("-pk").first()


def _list_surprises(steps: Sequence[Foresight]) -> list[Surprise]:
    """Return the cases foreseen worst, the least likely verdict first."""
    worst = sorted(steps, key=lambda step: step.learned_bits, reverse=True)[:MOST_SURPRISES]
    titles = dict(
        Case.objects.filter(pk__in=[int(step.lesson) for step in worst]).values_list("pk", "title")
    )
    names: dict[int, list[str]] = {}
    for case_id, name in Verdict.objects.filter(case__in=titles).values_list("case", "fault_name"):
        names.setdefault(case_id, []).append(name)
    return [
        Surprise(
            case_id=int(step.lesson),
            title=titles[int(step.lesson)],
            faults="; ".join(names.get(int(step.lesson), ())),
            bits=step.learned_bits,
        )
        for step in worst
        if int(step.lesson) in titles and step.learned_bits >= LEAST_SURPRISE_BITS
    ]
