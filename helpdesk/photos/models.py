"""Photos of failed prints."""

from typing import ClassVar

from django.core.files.storage import storages
from django.core.files.storage.base import Storage
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Case


def photo_storage() -> Storage:
    """Return the private storage of photos."""
    return storages["photos"]


class PhotoState(models.TextChoices):
    """How far a photo is."""

    WAITING = "waiting", "being prepared"
    READY = "ready", "ready"
    REFUSED = "refused", "could not be read"


class Photo(models.Model):
    """One photo: belongs to a draft of the report form until its case exists."""

    case = models.ForeignKey(
        Case, null=True, blank=True, on_delete=models.CASCADE, related_name="photos"
    )
    draft_key = models.CharField(max_length=64, blank=True, default="", db_index=True)
    position = models.PositiveSmallIntegerField(default=0)
    label = models.CharField(max_length=120, help_text="The file's name, as a label only.")
    alt_text = models.CharField(max_length=300, blank=True, default="")
    format = models.CharField(max_length=5, help_text="JPEG, PNG, WEBP or HEIC, told from bytes.")
    size_bytes = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    state = models.CharField(max_length=8, choices=PhotoState, default=PhotoState.WAITING)
    refusal = models.CharField(max_length=200, blank=True, default="")
    width = models.PositiveIntegerField(default=0)
    height = models.PositiveIntegerField(default=0)
    keeps_original = models.BooleanField(default=False)
    original = models.FileField(storage=photo_storage, upload_to="", max_length=200, blank=True)
    web = models.FileField(storage=photo_storage, upload_to="", max_length=200, blank=True)
    thumb = models.FileField(storage=photo_storage, upload_to="", max_length=200, blank=True)
    received_at = models.DateTimeField()
    from_follow_up = models.BooleanField(
        default=False, help_text="Sent later, not with the report."
    )

    class Meta:
        ordering: ClassVar = ["position", "pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(case__isnull=False) | ~models.Q(draft_key=""),
                name="photo_has_owner",
            )
        ]

    def __str__(self) -> str:
        return f"Photo {self.pk} of case {self.case_id}"

    @property
    def web_address(self) -> str:
        """Return the address of the page rendition, for people of the desk."""
        return reverse("photos:photo", args=[self.pk, "web"])

    @property
    def thumb_address(self) -> str:
        """Return the address of the thumbnail, for people of the desk."""
        return reverse("photos:photo", args=[self.pk, "thumb"])

    @property
    def original_address(self) -> str:
        """Return the address of the file as sent, or "" when it was not kept."""
        return reverse("photos:photo", args=[self.pk, "original"]) if self.original else ""

    @property
    def is_ready(self) -> bool:
        """Return True once there is something to look at."""
        return self.state == PhotoState.READY

    @property
    def description(self) -> str:
        """Return what the photo shows, or its place in the row when nobody has said."""
        return self.alt_text or f"Photo {self.position}, not described yet"
