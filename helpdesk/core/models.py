"""Work that must happen, as rows."""

from typing import ClassVar

from django.db import models


class JobState(models.TextChoices):
    """Where a piece of work stands."""

    WAITING = "waiting", "waiting"
    RUNNING = "running", "running"
    DONE = "done", "done"
    FAILED = "failed", "failed"


class Job(models.Model):
    """One piece of work, written in the transaction that caused it.

    The message to a worker is only a hint: a sweep sends waiting rows again, and a row whose
    lease has run out is taken over, so a killed worker loses nothing.
    """

    kind = models.CharField(max_length=60)
    key = models.CharField(max_length=200, unique=True)
    payload = models.JSONField(default=dict)
    state = models.CharField(max_length=10, choices=JobState, default=JobState.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    run_after = models.DateTimeField()
    lease_until = models.DateTimeField(null=True, blank=True)
    last_error = models.TextField(blank=True, default="")
    created_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes: ClassVar = [
            models.Index(
                fields=["run_after"],
                condition=models.Q(state__in=["waiting", "running"]),
                name="job_due",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key} ({self.state})"


class Bucket(models.Model):
    """What one visitor may still do of one thing; fills again as time goes by."""

    key = models.CharField(max_length=64, unique=True, help_text="A keyed hash; names nobody.")
    left = models.FloatField()
    at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"Bucket {self.pk}: {self.left:g} left"
