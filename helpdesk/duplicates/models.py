"""What cases are recognised by, and the pairs proposed as one print."""

from typing import ClassVar

from django.conf import settings
from django.db import models

from helpdesk.cases.models import Case
from helpdesk.photos.models import Photo


class TraceKind(models.IntegerChoices):
    """What a trace was taken of."""

    LINK = 1, "link"
    PERSON = 2, "address or handle"
    TEXT = 3, "run of words"
    WHOLE = 4, "band of a photo’s hash"
    DETAIL = 5, "word of a photo"


class PhotoPrint(models.Model):
    """What one photo is recognised by; made once, when it is ready."""

    photo = models.OneToOneField(Photo, on_delete=models.CASCADE, related_name="print")
    small = models.BinaryField(help_text="A JPEG copy of at most 128 px.")

    def __str__(self) -> str:
        return f"Print of photo {self.photo_id}"


class Trace(models.Model):
    """One number a case can be found by; equal numbers make two cases candidates."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="traces")
    photo = models.ForeignKey(
        Photo, null=True, blank=True, on_delete=models.CASCADE, related_name="traces"
    )
    kind = models.SmallIntegerField(choices=TraceKind)
    value = models.BigIntegerField()

    class Meta:
        indexes: ClassVar = [models.Index(fields=["kind", "value"], name="trace_look_up")]

    def __str__(self) -> str:
        return f"Trace of case {self.case_id}"


class ProposalState(models.TextChoices):
    """What a reviewer said of a pair."""

    OPEN = "open", "not decided"
    SAME = "same", "the same print"
    APART = "apart", "not the same"


class Proposal(models.Model):
    """Two cases that may be the same print; the one opened first has the lower number."""

    first = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="+")
    second = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="+")
    probability = models.FloatField()
    reasons = models.JSONField(default=list, help_text="List of {kind, words, weight}.")
    first_photo = models.ForeignKey(
        Photo, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    second_photo = models.ForeignKey(
        Photo, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField()
    state = models.CharField(max_length=5, choices=ProposalState, default=ProposalState.OPEN)
    decided_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)
    moved = models.ForeignKey(
        Case,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
        help_text="The case that was joined to the other.",
    )
    seen_photos = models.JSONField(
        default=list, help_text="Ids of the photos both cases had when they were kept apart."
    )

    class Meta:
        ordering: ClassVar = ["-probability", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["first", "second"], name="proposal_once_a_pair"),
            models.CheckConstraint(
                condition=models.Q(first__lt=models.F("second")), name="proposal_pair_in_order"
            ),
            models.CheckConstraint(
                condition=models.Q(probability__gte=0, probability__lte=1),
                name="proposal_probability_range",
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["state", "-probability"], name="proposal_by_state"),
            models.Index(fields=["second", "state"], name="proposal_of_second"),
        ]

    def __str__(self) -> str:
        return f"Cases {self.first_id} and {self.second_id}"
