"""Tables that are brought in, and the rows of them that could not be taken."""

from typing import ClassVar

from django.conf import settings
from django.core.files.storage import storages
from django.core.files.storage.base import Storage
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Channel


def table_storage() -> Storage:
    """Return the private storage of tables that are not in yet."""
    return storages["tables"]


class ImportState(models.TextChoices):
    """How far a table is."""

    DRAFT = "draft", "being looked at"
    RUNNING = "running", "being brought in"
    DONE = "done", "done"


class TableImport(models.Model):
    """One table; its file goes once every row was taken or refused."""

    label = models.CharField(max_length=120, help_text="The file's name, as a label only.")
    file = models.FileField(storage=table_storage, upload_to="", max_length=200, blank=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    made_at = models.DateTimeField()
    encoding = models.CharField(max_length=20)
    delimiter = models.CharField(max_length=1)
    header = models.JSONField(help_text="The names of the columns, in order.")
    remarks = models.JSONField(default=list, help_text="What was not sure when it was read.")
    columns = models.JSONField(help_text="What each column is, in order; empty for left out.")
    date_order = models.CharField(max_length=3, blank=True, default="")
    channel = models.CharField(max_length=10, choices=Channel, default=Channel.OTHER)
    state = models.CharField(max_length=8, choices=ImportState, default=ImportState.DRAFT)
    rows = models.PositiveIntegerField(default=0, help_text="How many rows are to be looked at.")
    position = models.PositiveIntegerField(default=0, help_text="How many were looked at.")
    made = models.PositiveIntegerField(default=0)
    known = models.PositiveIntegerField(default=0)
    refused = models.PositiveIntegerField(default=0)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-pk"]

    def __str__(self) -> str:
        return f"Table {self.pk}: {self.label}"

    def get_absolute_url(self) -> str:
        """Return the address of the table's page."""
        return reverse("capture:table_import", args=[self.pk])


class RefusedRow(models.Model):
    """A row that was not taken, as it stood, with the reason."""

    table = models.ForeignKey(TableImport, on_delete=models.CASCADE, related_name="refused_rows")
    number = models.PositiveIntegerField(help_text="Its place among the rows, from 1.")
    line = models.PositiveIntegerField(help_text="The line of the file it ends on.")
    cells = models.JSONField()
    why = models.TextField()

    class Meta:
        ordering: ClassVar = ["number"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["table", "number"], name="refused_row_once")
        ]

    def __str__(self) -> str:
        return f"Row {self.number} of table {self.table_id}"
