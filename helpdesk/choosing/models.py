"""What a producer sets for the choosing: weights for the desk, rules and wishes for an episode."""

from typing import ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from helpdesk.cases.models import Case
from helpdesk.episodes.models import Episode

MOST_POINTS = 100
MOST_FAMILIES = 10
MOST_OF_ONE = 5
LONGEST_CASE_S = 1800


class Reason(models.TextChoices):
    """What speaks for showing a case, and what variety is worth to a set."""

    INSTRUCTIVE = "instructive", "Instructive"
    FRESH = "fresh", "Unlike recent shows"
    PICTURES = "pictures", "Pictures"
    RESTED = "rested", "Not shown lately"
    WAITING = "waiting", "Waiting"
    STORY = "story", "A story"
    MARKED = "marked", "Marked by the desk"
    FAMILY_FIRST = "family-first", "First case of a family of faults"
    FAMILY_SECOND = "family-second", "Second case of a family of faults"
    PROCESS_FIRST = "process-first", "First case of a process"
    PROCESS_SECOND = "process-second", "Second case of a process"
    MACHINE_FIRST = "machine-first", "First case of a machine"
    MACHINE_SECOND = "machine-second", "Second case of a machine"


class Weight(models.Model):
    """How many points a reason is worth at most; no row means the default."""

    reason = models.CharField(max_length=14, choices=Reason, unique=True)
    points = models.PositiveSmallIntegerField(validators=[MaxValueValidator(MOST_POINTS)])
    set_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    set_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(points__lte=MOST_POINTS), name="weight_points_range"
            )
        ]

    def __str__(self) -> str:
        return f"{self.reason}: {self.points} points"


class EpisodeRules(models.Model):
    """What the set of an episode must keep to; no row means the defaults."""

    episode = models.OneToOneField(Episode, on_delete=models.CASCADE, related_name="choosing_rules")
    most_per_person = models.PositiveSmallIntegerField(
        "cases of one person at most",
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(MOST_OF_ONE)],
    )
    least_families = models.PositiveSmallIntegerField(
        "families of faults at least", default=1, validators=[MaxValueValidator(MOST_FAMILIES)]
    )  # [judgement: desk, 2026-11]
    least_case_s = models.PositiveSmallIntegerField(
        "seconds a case takes at least",
        default=150,
        validators=[MinValueValidator(20), MaxValueValidator(LONGEST_CASE_S)],
    )  # [judgement: desk, 2026-11]

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(most_per_person__gte=1), name="episoderules_one_a_person"
            )
        ]

    def __str__(self) -> str:
        return f"Rules of episode {self.episode_id}"


class WishKind(models.TextChoices):
    """What the producer wants of a case in an episode."""

    MUST = "must", "must have"
    NEVER = "never", "never"


class Wish(models.Model):
    """That a case must be in an episode, or never."""

    episode = models.ForeignKey(Episode, on_delete=models.CASCADE, related_name="wishes")
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="wishes")
    kind = models.CharField(max_length=5, choices=WishKind)
    set_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    set_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["episode", "case"], name="wish_once_a_case"),
            models.CheckConstraint(
                condition=models.Q(kind__in=WishKind.values), name="wish_kind_known"
            ),
        ]

    def __str__(self) -> str:
        return f"Case {self.case_id} {self.kind} in episode {self.episode_id}"
