"""Marks over pictures, and what presenter’s pages sent while a show was on."""

from typing import ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from helpdesk.episodes.models import Episode, Segment
from helpdesk.photos.models import Photo

PLACE = (MinValueValidator(0.0), MaxValueValidator(100.0))


class MarkShape(models.TextChoices):
    """What a mark looks like between its two points."""

    RING = "ring", "Ring"
    ARROW = "arrow", "Arrow"
    MEASURE = "measure", "Measure with end strokes"
    LINE = "line", "Line"


class PictureMark(models.Model):
    """A mark drawn over a photo, in its turn; places are percent of width and height."""

    photo = models.ForeignKey(Photo, on_delete=models.CASCADE, related_name="marks")
    position = models.PositiveSmallIntegerField()
    shape = models.CharField(max_length=8, choices=MarkShape)
    x1_pct = models.FloatField("start, % from the left", validators=PLACE)
    y1_pct = models.FloatField("start, % from the top", validators=PLACE)
    x2_pct = models.FloatField("end, % from the left", validators=PLACE)
    y2_pct = models.FloatField("end, % from the top", validators=PLACE)
    words = models.CharField(max_length=160, help_text="What the mark shows, in words.")

    class Meta:
        ordering: ClassVar = ["position", "pk"]

    def __str__(self) -> str:
        return f"Mark {self.position} on photo {self.photo_id}: {self.words}"


class StageEvent(models.Model):
    """One thing a presenter’s page did, so that sending it again does nothing twice."""

    class Kind(models.TextChoices):
        """What was done."""

        ON_AIR = "on_air", "on air"
        PART = "part", "part started"
        UNDO = "undo", "start taken back"
        ORDER = "order", "order changed"
        SKIP = "skip", "part left out"
        KEEP = "keep", "part put back"
        OFF_AIR = "off_air", "off air"

    event_id = models.UUIDField(unique=True)
    episode = models.ForeignKey(Episode, on_delete=models.CASCADE, related_name="stage_events")
    kind = models.CharField(max_length=8, choices=Kind)
    segment = models.ForeignKey(
        Segment, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    at = models.DateTimeField(help_text="When it was done, by the page’s clock.")
    received_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    refusal = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        ordering: ClassVar = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} at {self.at:%H:%M:%S}"
