"""What the search finds."""

from typing import ClassVar

from django.db import models

from helpdesk.cases.models import Case


class SearchEntry(models.Model):
    """The searchable text of one case, kept up to date by the index job."""

    case = models.OneToOneField(Case, on_delete=models.CASCADE, related_name="search_entry")
    title = models.CharField(max_length=120)
    story = models.TextField()
    answer = models.TextField(blank=True, default="")
    fault = models.CharField(max_length=60, blank=True, default="", db_index=True)
    machine = models.CharField(max_length=80, blank=True, default="", db_index=True)
    material = models.CharField(max_length=40, blank=True, default="", db_index=True)
    outcome = models.CharField(max_length=8, blank=True, default="", db_index=True)
    indexed_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-case_id"]
        verbose_name_plural = "search entries"

    def __str__(self) -> str:
        return f"Entry of case {self.case_id}"
