"""Descriptions of shows, the supporters' roll and lists being brought in, who was told."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Case
from helpdesk.episodes.models import Episode

NAME_CHARS = 80
NOTE_CHARS = 300
TARGET_CHARS = 60
MOST_CHARS = 100_000


class Description(models.Model):
    """The text that goes with a recording at one place, with that place's limit.

    An empty text stands for what the desk would write at the moment.
    """

    episode = models.ForeignKey(Episode, on_delete=models.CASCADE, related_name="descriptions")
    target = models.CharField("where it goes", max_length=TARGET_CHARS)
    limit_chars = models.PositiveIntegerField(
        "most characters", default=0, help_text="0 where there is no limit."
    )
    text = models.TextField(blank=True, default="")
    written_from = models.TextField(
        blank=True, default="", help_text="What the desk wrote when the text was edited."
    )
    edited_at = models.DateTimeField(null=True, blank=True)
    edited_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["episode", "target"], name="description_once_a_target")
        ]

    def __str__(self) -> str:
        return f"{self.target} of episode {self.episode_id}"


class HandTold(models.Model):
    """Somebody without a mail address was told by hand where their print was shown."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="told_by_hand")
    episode = models.ForeignKey(Episode, on_delete=models.CASCADE, related_name="told_by_hand")
    told_at = models.DateTimeField()
    told_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering: ClassVar = ["told_at", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["case", "episode"], name="hand_told_once_an_episode")
        ]

    def __str__(self) -> str:
        return f"Case {self.case_id} told of episode {self.episode_id}"


class Supporter(models.Model):
    """Somebody who supports the show; read aloud only with their consent."""

    name = models.CharField("name as it should read", max_length=NAME_CHARS)
    key = models.CharField(max_length=NAME_CHARS * 2, unique=True, help_text="The name, folded.")
    said_as = models.CharField("how it is said", max_length=NAME_CHARS, blank=True, default="")
    may_name = models.BooleanField("agrees to be named", default=False)
    since = models.CharField("supports since", max_length=40, blank=True, default="")
    note = models.CharField(max_length=NOTE_CHARS, blank=True, default="")
    noted_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["key"]

    def __str__(self) -> str:
        return f"Supporter {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the address of the form that changes them."""
        return reverse("aftershow:supporter", args=[self.pk])


class RollDraft(models.Model):
    """A list of supporters that was read and not brought in yet; it goes as soon as it is."""

    label = models.CharField(max_length=120, help_text="The file’s name, as a label only.")
    header = models.JSONField()
    rows = models.JSONField(help_text="Line, cells and trouble of each row.")
    columns = models.JSONField(help_text="What each column is.")
    remarks = models.JSONField(default=list)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering: ClassVar = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"List of supporters: {self.label}"

    def get_absolute_url(self) -> str:
        """Return the address of its page."""
        return reverse("aftershow:roll_draft", args=[self.pk])
