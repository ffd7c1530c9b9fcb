"""The desk's own cases with a verdict, as the engine would have met them."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch

from helpdesk.cases.models import Case, Process, Report
from helpdesk.diagnosis.engine import EngineInput, list_faults
from helpdesk.diagnosis.models import Verdict

NO_VERDICT = "no verdict yet"
ERASED = "words erased"
NO_WORDS = "no words in the first report"
OLD_FAULT = "a fault of the verdict is no longer in the knowledge"


@dataclass(frozen=True)
class JudgedCases:
    """Cases as first sent with the faults of their verdicts, and why others were left out."""

    cases: Sequence[tuple[EngineInput, Sequence[str]]]
    left_out: Mapping[str, int]


def list_judged_cases() -> JudgedCases:
    """Return the cases with a verdict, with the words and facts as first sent and no marks."""
    known = {info.id for info in list_faults()}
    found, left_out = [], Counter[str]()
    cases = Case.objects.order_by("pk").prefetch_related(
        Prefetch("verdicts", Verdict.objects.order_by("position", "pk")),
        Prefetch("reports", Report.objects.order_by("received_at", "pk")),
    )
    for case in cases.filter(verdicts__isnull=False).distinct().iterator(chunk_size=500):
        labels = [verdict.fault for verdict in case.verdicts.all()]
        reports = list(case.reports.all())
        if case.erased_at:
            left_out[ERASED] += 1
        elif not reports or not reports[0].story.strip():
            left_out[NO_WORDS] += 1
        elif not known.issuperset(labels):
            left_out[OLD_FAULT] += 1
        else:
            found.append((_as_sent(reports[0]), labels))
    waiting = Case.objects.filter(verdicts__isnull=True).count()
    if waiting:
        left_out[NO_VERDICT] = waiting
    return JudgedCases(found, dict(left_out))


def _as_sent(report: Report) -> EngineInput:
    """Return a report as the engine takes it, before anybody of the desk touched it."""
    sent = {name: str(words) for name, words in report.facts.items()}
    tried = sent.get("tried", "")
    return EngineInput(
        text=report.story,
        story_length=len(report.story),
        process=sent["process"] if sent.get("process") in Process.values else "",
        material=sent.get("material", ""),
        tried=(tried,) if tried else (),
    )
