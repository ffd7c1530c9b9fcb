"""Files of a case that are no photos."""

from typing import ClassVar

from django.core.files.storage import storages
from django.core.files.storage.base import Storage
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Case


def file_storage() -> Storage:
    """Return the private storage of print files and models."""
    return storages["files"]


class FileKind(models.TextChoices):
    """What a file holds, told from its content."""

    PRINT_FILE = "print", "print file"
    MODEL = "model", "model"
    SETTINGS = "settings", "settings"


class CaseFile(models.Model):
    """One file as sent. It is stored, measured and handed out as a download, never shown."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="files")
    kind = models.CharField(max_length=8, choices=FileKind)
    format = models.CharField(max_length=8, help_text="GCODE, GCODE.GZ, STL, 3MF, OBJ or TEXT.")
    label = models.CharField(max_length=120, help_text="The file's name, as a label only.")
    size_bytes = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    file = models.FileField(storage=file_storage, upload_to="", max_length=200)
    received_at = models.DateTimeField()
    from_follow_up = models.BooleanField(
        default=False, help_text="Sent later, not with the report."
    )

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["case", "sha256"], name="case_file_once"),
        ]

    def __str__(self) -> str:
        return f"File {self.pk} of case {self.case_id}"

    def get_absolute_url(self) -> str:
        """Return the address of the download, for people of the desk."""
        return reverse("printfiles:file", args=[self.pk])
