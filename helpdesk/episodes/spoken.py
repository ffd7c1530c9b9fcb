"""Cautions that must be said aloud when a case is shown.

They are read from what the desk sees and has sent at this moment and are stored nowhere in the
sheet, so nobody can edit them away: a danger seen in the report, and every caution about a danger
that the answer carried.
"""

from collections.abc import Sequence

from django.db.models import OuterRef, Subquery

from helpdesk.answers.advice import DANGER_PREFIX
from helpdesk.answers.cautions import read_cautions
from helpdesk.cases.models import Case
from helpdesk.diagnosis.models import DiagnosisRun
from helpdesk.diagnosis.selectors import view_of_run


def list_cautions(cases: Sequence[Case]) -> dict[int, tuple[str, ...]]:
    """Return the cautions of each case by its number, with those of cases joined to it.

    Uses `case.joined` and sent `case.answers` as prefetched; one query for all the cases.
    """
    owners = {each.pk: case.pk for case in cases for each in (case, *case.joined.all())}
    found: dict[int, dict[str, str]] = {case_id: {} for case_id in owners.values()}
    for run in _latest_runs(owners):
        for danger in view_of_run(run).dangers:
            found[owners[run.case_id]].setdefault(DANGER_PREFIX + danger.id, danger.say)
    for case in cases:
        for answer in case.answers.all():
            if answer.sent_at:
                for caution in read_cautions(answer.cautions):
                    if caution.is_danger and caution.sent_text:
                        found[case.pk].setdefault(caution.id, caution.sent_text)
    return {case_id: tuple(texts.values()) for case_id, texts in found.items()}


def _latest_runs(case_ids: dict[int, int]) -> list[DiagnosisRun]:
    """Return the newest stored run of each case, dangers first as they were found."""
    newest = DiagnosisRun.objects.filter(case=OuterRef("case")).order_by("-made_at", "-pk")
    runs = DiagnosisRun.objects.filter(case__in=list(case_ids))
    return list(runs.filter(pk=Subquery(newest.values("pk")[:1])).order_by("case_id"))
