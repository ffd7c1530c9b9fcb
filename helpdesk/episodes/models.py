"""Episodes and their parts, and how fast presenters speak."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Case
from helpdesk.photos.models import Photo

FREE_TALK_WPM = 175  # words a minute, talking freely [common practice, no source]
PICTURE_S = 8  # a picture stands without words [judgement: desk, 2026-11]


class EpisodeState(models.TextChoices):
    """Whether an episode is being made or has been shown."""

    MAKING = "making", "in the making"
    OUT = "out", "out"


class SegmentKind(models.TextChoices):
    """What a part of the show is."""

    TEASE = "tease", "Tease"
    HELLO = "hello", "Hello"
    CASE = "case", "Case"
    NOTICE = "notice", "Notice"
    THANKS = "thanks", "Supporters’ thanks"
    CALL = "call", "Call for reports"
    FAREWELL = "farewell", "Farewell"
    OWN = "own", "A kind of our own"


class Stand(models.TextChoices):
    """Where a part of a kind usually stands in a show."""

    OPENING = "opening", "at the start, before the first case"
    CASES = "cases", "among the cases"
    CLOSING = "closing", "after the last case"


class PartKind(models.Model):
    """A kind of part the producer made: its usual length and place."""

    name = models.CharField(max_length=40, unique=True)
    usual_s = models.PositiveIntegerField("usual seconds", default=30)
    stands = models.CharField(max_length=8, choices=Stand, default=Stand.CLOSING)

    class Meta:
        ordering: ClassVar = ["name"]

    def __str__(self) -> str:
        return self.name


class Episode(models.Model):
    """One show: when it starts, how long its slot is, and how fast its presenter speaks."""

    number = models.PositiveIntegerField(unique=True)
    title = models.CharField(max_length=120)
    starts_at = models.DateTimeField()
    slot_s = models.PositiveIntegerField("slot in seconds", default=1200)
    words_per_minute = models.PositiveSmallIntegerField(
        default=FREE_TALK_WPM, help_text="For whoever was not measured yet."
    )
    state = models.CharField(max_length=6, choices=EpisodeState, default=EpisodeState.MAKING)
    on_air_at = models.DateTimeField(null=True, blank=True, help_text="When it really began.")
    off_air_at = models.DateTimeField(null=True, blank=True, help_text="When it really ended.")
    recording_offset_s = models.IntegerField(
        default=0,
        help_text="Seconds of the recording before the show began; below 0 when it began later.",
    )
    out_at = models.DateTimeField(null=True, blank=True)
    link = models.URLField(max_length=500, blank=True, default="")
    version = models.PositiveIntegerField(
        default=1, help_text="Counts every change of the sheet: parts, order, times."
    )
    details_version = models.PositiveIntegerField(
        default=1, help_text="Counts changes of the episode’s own fields alone."
    )

    class Meta:
        ordering: ClassVar = ["-number"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(words_per_minute__gte=60, words_per_minute__lte=300),
                name="episode_rate_spoken",
            ),
            models.CheckConstraint(condition=models.Q(slot_s__gte=60), name="episode_slot_minute"),
        ]

    def __str__(self) -> str:
        return f"Episode {self.number}: {self.title}"

    def get_absolute_url(self) -> str:
        """Return the address of the run sheet."""
        return reverse("episodes:run_sheet", args=[self.number])

    @property
    def is_out(self) -> bool:
        """Return True once it was shown and its sheet is history."""
        return self.state == EpisodeState.OUT


class Segment(models.Model):
    """One part of a show: its planned time is words at a rate, pictures and a fixed part."""

    episode = models.ForeignKey(Episode, on_delete=models.CASCADE, related_name="segments")
    position = models.PositiveIntegerField()
    kind = models.CharField(max_length=8, choices=SegmentKind)
    own_kind = models.ForeignKey(
        PartKind, null=True, blank=True, on_delete=models.PROTECT, related_name="segments"
    )
    slug = models.CharField(max_length=60)
    case = models.ForeignKey(
        Case, null=True, blank=True, on_delete=models.SET_NULL, related_name="segments"
    )
    presenter = models.CharField(max_length=80, blank=True, default="")
    script = models.TextField(blank=True, default="", help_text="Words to be spoken.")
    talking_points = models.TextField(blank=True, default="", help_text="One a line.")
    fixed_s = models.PositiveIntegerField("fixed seconds", default=0)
    hit_at = models.DateTimeField(null=True, blank=True, help_text="When it must start.")
    started_at = models.DateTimeField(
        null=True, blank=True, help_text="When it really started, as the presenter’s page noted."
    )
    was_left_out = models.BooleanField(
        default=False, help_text="It stood on the sheet, and the show went by without it."
    )
    links = models.TextField(blank=True, default="", help_text="One address a line.")
    audience_question = models.CharField(max_length=300, blank=True, default="")
    version = models.PositiveIntegerField(
        default=1, help_text="Counts changes of this part’s words, so that two writers see both."
    )
    edited_at = models.DateTimeField(null=True, blank=True)
    edited_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
    )

    class Meta:
        ordering: ClassVar = ["position", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["episode", "slug"], name="segment_slug_unique"),
            models.UniqueConstraint(
                fields=["episode", "case"],
                condition=models.Q(case__isnull=False),
                name="segment_case_once",
            ),
        ]

    def __str__(self) -> str:
        return self.slug

    @property
    def kind_name(self) -> str:
        """Return what the producer calls this kind of part."""
        return self.own_kind.name if self.own_kind else self.get_kind_display()

    @property
    def points(self) -> list[str]:
        """Return the talking points, one each."""
        return _lines(self.talking_points)

    @property
    def link_list(self) -> list[str]:
        """Return the links, one each."""
        return _lines(self.links)


class ShownPicture(models.Model):
    """A photo a part shows, in its place, with the seconds it stands."""

    segment = models.ForeignKey(Segment, on_delete=models.CASCADE, related_name="pictures")
    photo = models.ForeignKey(Photo, on_delete=models.CASCADE, related_name="shown_in")
    position = models.PositiveIntegerField()
    seconds = models.PositiveSmallIntegerField(default=PICTURE_S)

    class Meta:
        ordering: ClassVar = ["position", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["segment", "photo"], name="picture_once_a_part")
        ]

    def __str__(self) -> str:
        return f"Photo {self.photo_id} in part {self.segment_id}"


class PresenterRate(models.Model):
    """How fast a presenter spoke, summed over the parts of past shows."""

    key = models.CharField(max_length=80, unique=True, help_text="The name without its case.")
    presenter = models.CharField(max_length=80)
    words = models.PositiveIntegerField(default=0)
    seconds = models.FloatField(default=0)

    class Meta:
        ordering: ClassVar = ["presenter", "pk"]

    def __str__(self) -> str:
        return f"{self.presenter}: {self.words} words in {self.seconds:.0f} s"


class SpokenPart(models.Model):
    """What one part added to a presenter’s rate, so that reading it again replaces it."""

    key = models.CharField(max_length=120, unique=True)
    rate = models.ForeignKey(PresenterRate, on_delete=models.CASCADE, related_name="spoken")
    words = models.PositiveIntegerField()
    seconds = models.FloatField()

    class Meta:
        ordering: ClassVar = ["pk"]

    def __str__(self) -> str:
        return f"{self.key}: {self.words} words in {self.seconds:.0f} s"


class Candidate(models.Model):
    """A case marked as fit for a show."""

    case = models.OneToOneField(Case, on_delete=models.CASCADE, related_name="candidacy")
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    added_at = models.DateTimeField()
    why = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        ordering: ClassVar = ["added_at", "pk"]

    def __str__(self) -> str:
        return f"Candidate: case {self.case_id}"


class Withdrawal(models.Model):
    """Something a person took back that a show uses, has used or meant to use.

    A row tells the producer; it stays after it was seen, as the list of what was shown before.
    """

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="withdrawals")
    key = models.CharField(max_length=120, unique=True, help_text="What took it back, and where.")
    use = models.CharField(max_length=8, choices=[("photos", "photos"), ("name", "name")])
    noted_at = models.DateTimeField()
    episode_number = models.PositiveIntegerField(null=True, blank=True)
    shown_at_s = models.PositiveIntegerField(
        null=True, blank=True, help_text="The second it was shown; empty when it was not."
    )
    seen_at = models.DateTimeField(null=True, blank=True)
    seen_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )

    class Meta:
        ordering: ClassVar = ["-noted_at", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(use__in=["photos", "name"]), name="withdrawal_use_known"
            )
        ]

    def __str__(self) -> str:
        return f"{self.use} of case {self.case_id} taken back"

    @property
    def was_shown(self) -> bool:
        """Return True when it went out before it was taken back."""
        return self.shown_at_s is not None


def _lines(text: str) -> list[str]:
    """Return the lines that say something."""
    return [line.strip() for line in text.splitlines() if line.strip()]
