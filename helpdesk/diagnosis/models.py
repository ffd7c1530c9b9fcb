"""What the engine and the reviewers make of a case."""

from typing import ClassVar

from django.conf import settings
from django.db import models

from helpdesk.cases.models import Case


class FindingState(models.TextChoices):
    """What is known of a finding."""

    PRESENT = "present", "present"
    ABSENT = "absent", "absent"
    UNKNOWN = "unknown", "unknown"


class MarkSource(models.TextChoices):
    """Where a mark comes from."""

    REVIEWER = "reviewer", "reviewer"
    PERSON = "person", "their answer"


class FindingMark(models.Model):
    """A finding set by a person; it overrules what was read from the text.

    UNKNOWN set by a reviewer withdraws a reading: the words do not mean what was read.
    """

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="finding_marks")
    finding = models.CharField(max_length=60)
    state = models.CharField(max_length=7, choices=FindingState)
    source = models.CharField(max_length=8, choices=MarkSource, default=MarkSource.REVIEWER)
    set_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    set_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["case", "finding"], name="mark_once_a_finding")
        ]

    def __str__(self) -> str:
        return f"{self.finding} {self.state} on case {self.case_id}"


class DiagnosisRun(models.Model):
    """One stored run of the engine: what went in, what came out, and which knowledge was used."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="runs")
    knowledge_version = models.CharField(max_length=40)
    made_at = models.DateTimeField()
    cause = models.CharField(max_length=120, help_text="What made the desk think again.")
    result = models.JSONField(help_text="Reading, ranking, questions, plan and dangers as data.")

    class Meta:
        ordering: ClassVar = ["made_at", "pk"]
        indexes: ClassVar = [models.Index(fields=["case", "-made_at"], name="run_latest")]

    def __str__(self) -> str:
        return f"Run of case {self.case_id} at {self.made_at:%Y-%m-%d %H:%M}"


class Verdict(models.Model):
    """A fault a reviewer confirms for a case."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="verdicts")
    fault = models.CharField(max_length=60)
    fault_name = models.CharField(max_length=120)
    position = models.PositiveSmallIntegerField(default=0)
    set_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    set_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["position", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["case", "fault"], name="verdict_once_a_fault")
        ]

    def __str__(self) -> str:
        return f"{self.fault} on case {self.case_id}"
