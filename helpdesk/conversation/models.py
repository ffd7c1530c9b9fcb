"""Recurring texts."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.urls import reverse

BODY_LIMIT = 4000  # characters, as in the box for a question [judgement: desk design, 2026-11]


class TextKind(models.TextChoices):
    """Where a recurring text is used."""

    QUESTION = "question", "Question"
    ANSWER = "answer", "Part of an answer"
    CLOSING = "closing", "Closing"
    CHAT = "chat", "Note to a chat"


class SetText(models.Model):
    """A text the desk says often, with placeholders in braces."""

    title = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=10, choices=TextKind)
    body = models.TextField(max_length=BODY_LIMIT)
    version = models.PositiveIntegerField(default=1)
    edited_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    edited_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["kind", "title"]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Return the page on which it is changed."""
        return reverse("conversation:edit_text", args=[self.pk])
