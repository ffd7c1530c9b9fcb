"""When somebody was asked how it went."""

from typing import ClassVar

from django.conf import settings
from django.db import models

from helpdesk.cases.models import Case, Channel

FIRST, REMINDER = 1, 2


class Asking(models.Model):
    """One question how it went; an answer is asked about once, and once more as a reminder."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="askings")
    about = models.DateTimeField(help_text="When the wait for the outcome began.")
    number = models.PositiveSmallIntegerField(help_text="1 is the question, 2 the reminder.")
    at = models.DateTimeField()
    channel = models.CharField(max_length=10, choices=Channel)
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    along_with = models.ForeignKey(
        Case,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
        help_text="The joined case of the same person whose question was this one, too.",
    )

    class Meta:
        ordering: ClassVar = ["at", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["case", "about", "number"], name="asking_once_a_number")
        ]

    def __str__(self) -> str:
        return f"Asking {self.number} about case {self.case_id}"
