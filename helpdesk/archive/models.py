"""Shows of the past, their captions, and the segments these were cut into."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Case

TITLE_CHARS = 120


class Kind(models.TextChoices):
    """What a segment is; the engine knows the same words."""

    INTRO = "intro", "Intro"
    CASE = "case", "Case"
    NOTICE = "notice", "Notice"
    OUTRO = "outro", "Outro"


class ArchivedShow(models.Model):
    """A show by its number, whether or not the desk made its run sheet."""

    number = models.PositiveIntegerField(unique=True)
    title = models.CharField(max_length=TITLE_CHARS)
    on_date = models.DateField("date", null=True, blank=True)
    link = models.URLField(
        max_length=500, blank=True, default="", help_text="The recording, where people watch it."
    )
    checked_at = models.DateTimeField(null=True, blank=True)
    checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar = ["-number"]

    def __str__(self) -> str:
        return f"Show {self.number}: {self.title}"

    def get_absolute_url(self) -> str:
        """Return the address of its segments."""
        return reverse("archive:show", args=[self.number])


class CaptionFile(models.Model):
    """The captions of a show as they were read; one file at a time.

    All cues lie packed in one row: they are read together and never one by one.
    """

    show = models.OneToOneField(ArchivedShow, on_delete=models.CASCADE, related_name="captions")
    label = models.CharField(max_length=120, help_text="The file’s name, as a label only.")
    sha256 = models.CharField(max_length=64, help_text="Of the file’s bytes.")
    file_format = models.CharField(max_length=8)
    encoding = models.CharField(max_length=12)
    is_automatic = models.BooleanField(
        help_text="Whether speech recognition seems to have made it."
    )
    is_mixed = models.BooleanField(help_text="Whether much of it seems to be in another language.")
    remarks = models.JSONField(default=list, help_text="What was mended, and what was no use.")
    cues = models.JSONField(help_text="Start and end in seconds, words and speaker of each cue.")
    cue_count = models.PositiveIntegerField()
    duration_s = models.FloatField()
    imported_at = models.DateTimeField()
    imported_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    def __str__(self) -> str:
        return f"Captions of show {self.show_id}: {self.label}"


class ArchiveSegment(models.Model):
    """One stretch of a show, from its first cue to the next one’s."""

    show = models.ForeignKey(ArchivedShow, on_delete=models.CASCADE, related_name="segments")
    position = models.PositiveIntegerField()
    first_cue = models.PositiveIntegerField()
    start_s = models.FloatField()
    end_s = models.FloatField()
    kind = models.CharField(max_length=6, choices=Kind)
    title = models.CharField(max_length=TITLE_CHARS)
    case = models.ForeignKey(
        Case, null=True, blank=True, on_delete=models.SET_NULL, related_name="archive_segments"
    )
    suspects = models.JSONField(
        null=True, blank=True, help_text="Id, name and probability of faults; null: not read yet."
    )
    confidence = models.FloatField(
        help_text="That a segment begins here; 1 where a person said so."
    )
    corrected_at = models.DateTimeField(null=True, blank=True)
    corrected_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering: ClassVar = ["position"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["show", "first_cue"], name="archive_segment_cue_once"),
            models.CheckConstraint(
                condition=models.Q(kind__in=["intro", "case", "notice", "outro"]),
                name="archive_segment_kind_known",
            ),
        ]

    def __str__(self) -> str:
        return self.title


class ArchiveChange(models.Model):
    """A correction, with the segments as they were before it; undoing takes the row away."""

    show = models.ForeignKey(ArchivedShow, on_delete=models.CASCADE, related_name="changes")
    what = models.CharField(max_length=200)
    before = models.JSONField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering: ClassVar = ["-pk"]

    def __str__(self) -> str:
        return self.what


class UploadState(models.TextChoices):
    """How far an upload is."""

    WAITING = "waiting", "waiting"
    DONE = "done", "in the archive"
    KNOWN = "known", "already known"
    REFUSED = "refused", "refused"


class CaptionUpload(models.Model):
    """A file somebody sent by the page; its bytes go once it was read or refused."""

    label = models.CharField(max_length=120, help_text="The file’s name, as a label only.")
    number = models.PositiveIntegerField(null=True, blank=True, help_text="Of the show.")
    raw = models.BinaryField(null=True, blank=True)
    state = models.CharField(max_length=8, choices=UploadState, default=UploadState.WAITING)
    why = models.TextField(blank=True, default="")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering: ClassVar = ["-pk"]

    def __str__(self) -> str:
        return f"Upload {self.pk}: {self.label}"
