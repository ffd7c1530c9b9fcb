"""Letters, as rows."""

from typing import ClassVar

from django.db import models

from helpdesk.cases.models import Case

LINK_MARK = "{private_link}"  # stands in a letter's text until it is sent


class MailKind(models.TextChoices):
    """Why a letter is sent."""

    RECEIPT = "receipt", "receipt"
    QUESTION = "question", "question"
    ANSWER = "answer", "answer"
    FOLLOW_UP = "follow_up", "follow-up"
    FEATURED = "featured", "featured"


class OutgoingMail(models.Model):
    """One letter; `dedupe_key` names its effect, so the same letter is never written twice."""

    case = models.ForeignKey(Case, null=True, on_delete=models.CASCADE, related_name="mails")
    kind = models.CharField(max_length=10, choices=MailKind)
    dedupe_key = models.CharField(max_length=200, unique=True)
    to = models.EmailField()
    subject = models.CharField(max_length=200)
    text = models.TextField(help_text="{private_link} becomes the person's page when sent.")
    message_id = models.CharField(max_length=200, unique=True)
    in_reply_to = models.CharField(max_length=200, blank=True, default="")
    is_automatic = models.BooleanField(default=False)
    created_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-created_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.kind} to case {self.case_id}"
