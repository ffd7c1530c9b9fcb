"""Letters, as rows."""

import datetime
from typing import ClassVar

from django.db import models

from helpdesk.cases.models import Case

CLAIM = datetime.timedelta(minutes=5)  # the hard limit of a task: nobody is at a letter longer
LINK_MARK = "{private_link}"  # stands in a letter's text until it is sent


class MailKind(models.TextChoices):
    """Why a letter is sent."""

    RECEIPT = "receipt", "receipt"
    QUESTION = "question", "question"
    ANSWER = "answer", "answer"
    FOLLOW_UP = "follow_up", "follow-up"
    FEATURED = "featured", "featured"
    REPLY = "reply", "asking a maker for a reply"


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
    sending_at = models.DateTimeField(
        null=True, blank=True, help_text="When a worker began to hand it over; empty afterwards."
    )
    sent_at = models.DateTimeField(null=True, blank=True)
    undelivered_at = models.DateTimeField(
        null=True, blank=True, help_text="When the desk learned that it did not arrive."
    )
    undelivered_why = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        ordering: ClassVar = ["-created_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.kind} to case {self.case_id}"


class IncomingId(models.Model):
    """The Message-ID of a mail about a case, so that the next letter stands below it."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="incoming_ids")
    message_id = models.CharField(max_length=998)
    references = models.TextField(blank=True, default="", help_text="Ids, oldest first.")
    subject = models.CharField(max_length=200, blank=True, default="")
    noted_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["noted_at", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["case", "message_id"], name="incoming_id_once_a_case")
        ]

    def __str__(self) -> str:
        return f"Mail {self.pk} about case {self.case_id}"


class AddressMark(models.Model):
    """What the desk must keep in mind about a mail address, under a hash that names nobody."""

    address_hash = models.CharField(max_length=64, unique=True)
    undeliverable_at = models.DateTimeField(null=True, blank=True)
    why = models.CharField(max_length=300, blank=True, default="")
    unsubscribed_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"Mark {self.pk} on an address"
