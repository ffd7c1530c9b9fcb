"""What the engine and the reviewers make of a case."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Case
from helpdesk.diagnosis.errors import WrittenOnceError


class FindingState(models.TextChoices):
    """What is known of a finding."""

    PRESENT = "present", "present"
    ABSENT = "absent", "absent"
    UNKNOWN = "unknown", "unknown"


class MarkSource(models.TextChoices):
    """Where a mark comes from."""

    REVIEWER = "reviewer", "reviewer"
    PERSON = "person", "their answer"
    MISREAD = "misread", "their words, misread"


class FindingMark(models.Model):
    """A finding set by a person; it overrules what was read from the text.

    UNKNOWN set by a reviewer, or by the person as MISREAD, withdraws a reading: the words do not
    mean what was read.
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


class ReadingKind(models.TextChoices):
    """What can be read in somebody's words."""

    FINDING = "finding", "finding"
    RISK = "risk", "circumstance"
    TRIED = "tried", "tried remedy"
    GUESS = "guess", "guessed cause"
    DANGER = "danger", "danger"
    FACT = "fact", "fact"


class ReadingCorrection(models.Model):
    """Whether something was read rightly in a person's words, as somebody says: training data.

    One `is_missed` was not read at all: a reviewer saw it in these words. Of findings a FindingMark
    decides whether they count; of the other kinds, what is not right here is taken back. `start`
    and `end` are characters of all the words of the case put together, first report first. When
    the person is erased the words and their place go, the rest stays.
    """

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="reading_corrections")
    kind = models.CharField(max_length=7, choices=ReadingKind, default=ReadingKind.FINDING)
    name = models.CharField(max_length=60, help_text="Id of what was read.")
    state = models.CharField(
        max_length=7,
        choices=FindingState,
        blank=True,
        default="",
        help_text="What was read of a finding: present or absent.",
    )
    is_right = models.BooleanField(help_text="The words mean what was read.")
    is_missed = models.BooleanField(default=False, help_text="The desk read nothing in the words.")
    quote = models.TextField(blank=True, default="")
    start = models.PositiveIntegerField(null=True, blank=True)
    end = models.PositiveIntegerField(null=True, blank=True)
    said_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        help_text="Reviewer; empty for the person who wrote.",
    )
    said_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["said_at", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["case", "kind", "name", "is_missed"], name="correction_once_a_reading"
            )
        ]

    def __str__(self) -> str:
        how = "missed" if self.is_missed else "read rightly" if self.is_right else "read wrongly"
        return f"{self.name} {how}"


class Respondent(models.Model):
    """What the person who would be asked can look at; no row means the usual."""

    case = models.OneToOneField(Case, on_delete=models.CASCADE, related_name="respondent")
    has_print = models.BooleanField(default=True, help_text="The failed print still exists.")
    has_printer = models.BooleanField(default=True, help_text="They can get at the printer.")
    sends_photos = models.BooleanField(default=True)
    refused_tools = models.JSONField(default=list, help_text="Tools they have not got.")

    def __str__(self) -> str:
        return f"Who would be asked about case {self.case_id}"


class DiagnosisRun(models.Model):
    """One stored run of the engine: what went in, what came out, and which knowledge was used."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="runs")
    knowledge_version = models.CharField(max_length=40)
    revision = models.PositiveIntegerField(
        null=True, blank=True, help_text="Number in force then; empty for the expert's numbers."
    )
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
    desk_place = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text="Place in the desk's ranking when it was confirmed; empty when not ranked.",
    )
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


class WrittenOnce(models.Model):
    """A row that is added and then stays as it is."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Add the row; raises WrittenOnceError for one that is there already."""
        if not self._state.adding:
            raise WrittenOnceError(f"{self} is kept as it was written.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        """Raise WrittenOnceError."""
        raise WrittenOnceError(f"{self} is kept as it was written.")


class KnowledgeRevision(WrittenOnce):
    """The numbers of the knowledge as the desk's cases teach them, added to the expert's.

    Every revision is learned from all lessons anew, so none builds on another. It holds counts of
    faults, findings and remedies, and the ids of cases; nothing of a person.
    """

    number = models.PositiveIntegerField(unique=True)
    parent = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        help_text="The revision in force when this one was made; empty for the expert's numbers.",
    )
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    made_by_name = models.CharField(max_length=80)
    expert_version = models.CharField(
        max_length=40, help_text="Version of the expert's knowledge it was learned on."
    )
    version = models.CharField(max_length=40, help_text="Version of the knowledge it makes.")
    counts = models.JSONField(help_text="What the lessons add to the expert's numbers.")
    digest = models.CharField(max_length=64, help_text="SHA-256 of the counts.")
    lesson_count = models.PositiveIntegerField()
    bases = models.JSONField(help_text="Number of lessons by what their verdict rests on.")
    lessons_digest = models.CharField(max_length=64, help_text="SHA-256 of the lessons.")
    prequential = models.JSONField(help_text="How well each case was foreseen, case by case.")
    missing_links = models.JSONField(
        help_text="Findings that keep company with a fault although nothing links them."
    )
    note = models.TextField(blank=True, default="")

    class Meta:
        ordering: ClassVar = ["number"]

    def __str__(self) -> str:
        return f"Revision {self.number}"

    def get_absolute_url(self) -> str:
        """Return the page of this revision."""
        return reverse("learning:revision", args=[self.number])


class RevisionSwitch(WrittenOnce):
    """From when on a revision is in force; the newest row counts, no revision is the expert."""

    revision = models.ForeignKey(
        KnowledgeRevision,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="switches",
    )
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    by_name = models.CharField(max_length=80)
    why = models.TextField()

    class Meta:
        ordering: ClassVar = ["pk"]

    def __str__(self) -> str:
        name = str(self.revision) if self.revision else "The expert's numbers"
        return f"{name} from {self.at:%Y-%m-%d %H:%M}"


class Sureness(models.TextChoices):
    """How sure a reviewer is of an opinion."""

    SURE = "sure", "Sure"
    LIKELY = "likely", "Fairly sure"
    UNSURE = "unsure", "Not sure"


class SecondLook(models.Model):
    """A wish of a reviewer that a colleague looks at a case without knowing what was made of it."""

    case = models.OneToOneField(Case, on_delete=models.CASCADE, related_name="second_look")
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    asked_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Second look at case {self.case_id}"


class Opinion(models.Model):
    """What a reviewer made of a case who had seen the report alone.

    It may be corrected until it is closed; from then on its reviewer may see the rest, and it
    stays as it is.
    """

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="opinions")
    reviewer = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="opinions"
    )
    reviewer_name = models.CharField(max_length=80)
    faults = models.JSONField(help_text="List of {fault, name}, the main one first.")
    sureness = models.CharField(max_length=6, choices=Sureness, blank=True, default="")
    given_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["given_at", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["case", "reviewer"], name="opinion_once_a_reviewer")
        ]

    def __str__(self) -> str:
        return f"Opinion of {self.reviewer_name} on case {self.case_id}"
