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


class SpokenShow(models.Model):
    """A show whose captions are in the index."""

    number = models.PositiveIntegerField(unique=True)
    title = models.CharField(max_length=120)
    on_date = models.DateField(null=True, blank=True)
    link = models.URLField(max_length=500, blank=True, default="")

    class Meta:
        ordering: ClassVar = ["-number"]

    def __str__(self) -> str:
        return f"Words of show {self.number}"


class SpokenPassage(models.Model):
    """Some seconds of a show: its own words, then those that follow, so that none fall between.

    Words of the following passages are there to be found together with its own; what begins in
    them is a hit of the passage they belong to.
    """

    show = models.ForeignKey(SpokenShow, on_delete=models.CASCADE, related_name="passages")
    segment = models.PositiveIntegerField(help_text="The place of its segment in the show.")
    title = models.CharField(max_length=120, help_text="Of the segment.")
    kind = models.CharField(max_length=8, help_text="Of the segment.")
    fault = models.CharField(max_length=60, blank=True, default="", db_index=True)
    case = models.ForeignKey(
        Case, null=True, blank=True, on_delete=models.SET_NULL, related_name="passages"
    )
    text = models.TextField()
    own_chars = models.PositiveIntegerField(help_text="Where the words of others begin.")
    cues = models.JSONField(help_text="Character and second at which each cue begins.")

    class Meta:
        ordering: ClassVar = ["pk"]

    def __str__(self) -> str:
        return f"Words of segment {self.segment} of show {self.show_id}"
