"""Answers: what the desk advises."""

from typing import ClassVar

from django.conf import settings
from django.db import models

from helpdesk.cases.models import Case, Channel


class Answer(models.Model):
    """A draft until `sent_at` is set; later answers to the same case are new rows."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="answers")
    body = models.TextField()
    previous_body = models.TextField(
        blank=True, default="", help_text="The text before the desk drafted anew."
    )
    cautions = models.JSONField(
        default=list,
        help_text="List of {id, title, text, is_danger, origin, wording, left_out}: see cautions.",
    )
    faults = models.JSONField(default=list, help_text="Fault ids of the verdict when drafted.")
    actions = models.JSONField(default=list, help_text="Action ids advised, in order.")
    version = models.PositiveIntegerField(default=1)
    edited_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    edited_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )
    sent_text = models.TextField(blank=True, default="", help_text="Exactly what went out.")
    sent_via = models.CharField(max_length=10, choices=Channel, blank=True, default="")
    copy_of = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="copies",
        help_text="The lead case's answer that this one passes on.",
    )
    length_limit = models.PositiveIntegerField(
        default=500, help_text="Characters a message may have where it is not mail."
    )
    published_at = models.DateTimeField(null=True, blank=True)
    published_title = models.CharField(max_length=120, blank=True, default="")
    published_body = models.TextField(blank=True, default="")
    published_photos = models.JSONField(
        default=list, blank=True, help_text="List of {photo, alt}, in the order shown."
    )

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["case"], condition=models.Q(sent_at__isnull=True), name="answer_one_draft"
            )
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["-published_at"],
                condition=models.Q(published_at__isnull=False),
                name="answer_published",
            )
        ]

    def __str__(self) -> str:
        return f"Answer to case {self.case_id}"
