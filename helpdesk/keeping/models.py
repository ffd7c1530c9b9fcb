"""What was removed, told without saying of whom."""

from typing import ClassVar

from django.db import models


class RemovalRecord(models.Model):
    """One removal: what kind, how many, when and by which rule. It names nobody."""

    kind = models.CharField(max_length=30, help_text="What went: cases, letters, originals, …")
    count = models.PositiveIntegerField()
    rule = models.CharField(max_length=120, help_text="Why it went, such as a time of keeping.")
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(condition=models.Q(count__gte=1), name="removal_of_something")
        ]

    def __str__(self) -> str:
        return f"{self.count} {self.kind}, {self.at:%Y-%m-%d}"
