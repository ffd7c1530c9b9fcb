"""Cases with a verdict as lessons: what was looked for, what was wrong, what cured it.

A lesson holds ids alone. What a person wrote, who they are and what was only read in their words
is no part of it, so it stays when a person has everything erased.
"""

import datetime
import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import OuterRef, Prefetch, QuerySet, Subquery

from helpdesk.answers.models import Answer
from helpdesk.answers.selectors import list_sent_steps
from helpdesk.cases.models import (
    NOT_KNOWN,
    SOMETHING_ELSE,
    Case,
    Outcome,
    OutcomeResult,
)
from helpdesk.diagnosis.engine import LessonInput, cures_any, resolve_material
from helpdesk.diagnosis.models import DiagnosisRun, FindingState, Verdict

CURED, CONFIRMED, ACCEPTED = "cured", "confirmed", "accepted"
BATCH = 500  # cases held at once
REMEDY = "remedy"  # kind of an action that may cure


@dataclass(frozen=True)
class Circumstances:
    """What the desk took a print for when its verdict was set."""

    process: str = ""
    material: str = ""
    machine: str = ""
    risks: tuple[str, ...] = ()


def list_lessons() -> list[LessonInput]:
    """Return a lesson for every case with a verdict, in the order of the verdicts."""
    found = _list_judged_cases().iterator(chunk_size=BATCH)
    return list(
        itertools.chain.from_iterable(
            _make_lessons(batch) for batch in iter(lambda: list(itertools.islice(found, BATCH)), [])
        )
    )


def count_judged_cases() -> int:
    """Return how many cases have a verdict."""
    return Verdict.objects.values("case").distinct().count()


def judge_basis(
    verdicts: Sequence[Verdict], outcomes: Sequence[Outcome], answers: Sequence[Answer]
) -> str:
    """Return what a verdict rests on: a cure, a second look, or the desk's own suggestion.

    - *cured*: the last thing told is that it worked, and the step that did it cures one of the
      faults; or no step was named, and the answer before it was written for these very faults. A
      cure by something else, or by a step that cures none of them, says nothing for the verdict,
      and neither does a print that was given up.
    - *accepted*: the faults are the ones the desk itself put first when they were confirmed.
    - *confirmed*: otherwise; the reviewer judged against, or without, the suggestion.

    Parameters are in the order of time.
    """
    faults = {verdict.fault for verdict in verdicts}
    told = [o for o in outcomes if o.result != OutcomeResult.NOT_TRIED]
    if told and told[-1].result == OutcomeResult.WORKED and _is_cure(told[-1], faults, answers):
        return CURED
    places = [verdict.desk_place for verdict in verdicts]
    is_suggestion = all(place is not None and place <= len(faults) for place in places)
    return ACCEPTED if is_suggestion else CONFIRMED


def judge_remedies(outcomes: Sequence[Outcome], answers: Sequence[Answer]) -> dict[str, bool]:
    """Return the remedies whose effect somebody told, with whether each cured the print.

    Only what was said counts. A step that helped a little did not cure. A failure tells of a
    remedy only when the answer advised no other; which of several were done is not known. Giving
    up tells nothing of a remedy: people also give up because time or patience ran out.
    """
    told: dict[str, bool] = {}
    for outcome in outcomes:
        if outcome.remedy not in ("", SOMETHING_ELSE, NOT_KNOWN):
            told[outcome.remedy] = outcome.result == OutcomeResult.WORKED
        elif outcome.result == OutcomeResult.DID_NOT_WORK:
            answer = _answer_before(outcome.said_at, answers)
            steps = list_sent_steps([answer]) if answer else []
            remedies = [step.id for step in steps if step.kind == REMEDY]
            if len(remedies) == 1:
                told[remedies[0]] = False
    return told


def _list_judged_cases() -> QuerySet[Case]:
    """Return the cases with a verdict, the verdict's time and the run it was set on."""
    runs = DiagnosisRun.objects.filter(case=OuterRef("pk"), made_at__lte=OuterRef("judged_at"))
    sent = Answer.objects.filter(sent_at__isnull=False).order_by("sent_at", "pk")
    verdicts = Verdict.objects.filter(case=OuterRef("pk")).order_by("-set_at")
    return (
        Case.objects.filter(pk__in=Verdict.objects.values("case"))
        .annotate(judged_at=Subquery(verdicts.values("set_at")[:1]))
        .annotate(run=Subquery(runs.order_by("-made_at", "-pk").values("pk")[:1]))
        .only("process", "material")
        .prefetch_related(
            "verdicts",
            "finding_marks",
            "outcomes",
            Prefetch("answers", sent.only("case", "faults", "actions", "sent_at", "sent_text")),
        )
        .order_by("judged_at", "pk")
    )


def _make_lessons(cases: Sequence[Case]) -> Iterator[LessonInput]:
    """Yield the lessons of a batch."""
    known = _list_circumstances([case.run for case in cases if case.run])  # type: ignore[attr-defined]
    for case in cases:
        yield _make_lesson(case, known.get(case.run, Circumstances()))  # type: ignore[attr-defined]


def _make_lesson(case: Case, seen: Circumstances) -> LessonInput:
    """Return what one case teaches."""
    verdicts, outcomes = list(case.verdicts.all()), list(case.outcomes.all())
    answers = list(case.answers.all())
    marks = case.finding_marks.all()
    return LessonInput(
        id=str(case.pk),
        process=case.process or seen.process,
        material=seen.material or resolve_material(case.material),
        machine=seen.machine,
        faults=tuple(verdict.fault for verdict in verdicts),
        findings={
            mark.finding: mark.state == FindingState.PRESENT
            for mark in sorted(marks, key=lambda mark: mark.finding)
            if mark.state != FindingState.UNKNOWN
        },
        risks=seen.risks,
        remedies=judge_remedies(outcomes, answers),
        basis=judge_basis(verdicts, outcomes, answers),
    )


def _list_circumstances(run_ids: Sequence[int]) -> Mapping[int, Circumstances]:
    """Return what some runs took their prints for; earlier runs kept less."""
    rows = DiagnosisRun.objects.filter(pk__in=run_ids).values_list(
        "pk", "result__process", "result__material", "result__machine", "result__risks"
    )
    return {
        pk: Circumstances(process or "", material or "", machine or "", tuple(risks or ()))
        for pk, process, material, machine, risks in rows
    }


def _is_cure(outcome: Outcome, faults: set[str], answers: Sequence[Answer]) -> bool:
    """Return True when a success speaks for the verdict."""
    if outcome.remedy in ("", NOT_KNOWN):
        answer = _answer_before(outcome.said_at, answers)
        return answer is not None and set(answer.faults) == faults
    return outcome.remedy != SOMETHING_ELSE and cures_any(outcome.remedy, faults)


def _answer_before(moment: datetime.datetime, answers: Sequence[Answer]) -> Answer | None:
    """Return the last answer that was sent by a moment."""
    sent = [answer for answer in answers if answer.sent_at and answer.sent_at <= moment]
    return sent[-1] if sent else None
