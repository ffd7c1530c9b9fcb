"""Makers, sellers, products and batches, and everything said of them."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Case
from helpdesk.outbox.models import OutgoingMail
from helpdesk.photos.models import Photo
from helpdesk.supply.names import NAME_CHARS, fold

TEXT_CHARS = 4000
LINE_CHARS = 300
WHO_CHARS = 120


class SubjectKind(models.TextChoices):
    """What can be spoken of."""

    MAKER = "maker", "maker"
    SELLER = "seller", "seller"
    PRODUCT = "product", "product"
    BATCH = "batch", "batch"


class ProductKind(models.TextChoices):
    """What a product is."""

    FILAMENT = "filament", "filament or resin"
    PART = "part", "bought part"
    PRINTER = "printer", "printer"


class Subject(models.Model):
    """A maker, a seller, a product of a maker, or a batch of a product."""

    kind = models.CharField(max_length=8, choices=SubjectKind)
    product_kind = models.CharField(max_length=8, choices=ProductKind, blank=True, default="")
    name = models.CharField(max_length=NAME_CHARS)
    name_key = models.CharField(max_length=NAME_CHARS * 3, editable=False)
    parent = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="children",
        help_text="The maker of a product, or the product of a batch.",
    )
    contact_name = models.CharField(max_length=WHO_CHARS, blank=True, default="")
    contact_email = models.EmailField(blank=True, default="")
    contact_other = models.CharField(max_length=LINE_CHARS, blank=True, default="")
    is_from_report = models.BooleanField(
        default=False, help_text="The desk noted it from a report; nobody looked at it yet."
    )
    made_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["name_key", "pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["kind", "parent", "name_key"],
                condition=models.Q(parent__isnull=False),
                name="subject_once_below_its_parent",
            ),
            models.UniqueConstraint(
                fields=["kind", "name_key"],
                condition=models.Q(parent__isnull=True),
                name="subject_once_without_parent",
            ),
            models.CheckConstraint(
                condition=~models.Q(parent=models.F("id")), name="subject_not_its_own_parent"
            ),
        ]

    def __str__(self) -> str:
        return self.full_name

    def save(self, *args: object, **kwargs: object) -> None:
        """Keep the name also as it is compared."""
        self.name_key = fold(self.name)
        super().save(*args, **kwargs)  # type: ignore[arg-type]

    def get_absolute_url(self) -> str:
        """Return the page of the subject."""
        return reverse("supply:subject", args=[self.pk])

    @property
    def full_name(self) -> str:
        """Return the name with the maker's before it: "Fennmoor PLA, batch 24-11"."""
        if self.parent is None:
            return self.name
        if self.kind == SubjectKind.BATCH:
            return f"{self.parent.full_name}, batch {self.name}"
        return f"{self.parent.full_name} {self.name}"


class SubjectName(models.Model):
    """Another name a subject is known by."""

    subject = models.ForeignKey(Subject, on_delete=models.CASCADE, related_name="other_names")
    name = models.CharField(max_length=NAME_CHARS)
    name_key = models.CharField(max_length=NAME_CHARS * 3)

    class Meta:
        ordering: ClassVar = ["name_key"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["subject", "name_key"], name="subject_name_once")
        ]

    def __str__(self) -> str:
        return self.name


class SubjectCase(models.Model):
    """That a case names a subject; what somebody took away by hand is not linked again."""

    subject = models.ForeignKey(Subject, on_delete=models.CASCADE, related_name="links")
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="subject_links")
    is_by_hand = models.BooleanField(default=False)
    is_dropped = models.BooleanField(default=False, help_text="Somebody said it is not so.")
    noted_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["subject", "case"], name="subject_once_a_case")
        ]

    def __str__(self) -> str:
        return f"Case {self.case_id} names subject {self.subject_id}"


class Entry(models.Model):
    """One line of a subject's record: what, when, by whom and why."""

    subject = models.ForeignKey(Subject, on_delete=models.CASCADE, related_name="entries")
    what = models.CharField(max_length=200)
    why = models.TextField(blank=True, default="")
    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    actor_name = models.CharField(max_length=80)
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.what


class NoticeState(models.TextChoices):
    """How far a notice is."""

    DRAFT = "draft", "draft"
    READY = "ready", "public"
    WITHDRAWN = "withdrawn", "withdrawn"


class Notice(models.Model):
    """Evidence about a subject for everybody; its words are its statement."""

    subject = models.ForeignKey(Subject, on_delete=models.PROTECT, related_name="notices")
    title = models.CharField(max_length=120)
    fault = models.CharField(max_length=60, help_text="Id of the fault that was found.")
    fault_name = models.CharField(max_length=120)
    caution = models.TextField(
        blank=True, default="", help_text="What to do at once, where it is dangerous."
    )
    state = models.CharField(max_length=9, choices=NoticeState, default=NoticeState.DRAFT)
    version = models.PositiveIntegerField(default=1)
    made_at = models.DateTimeField()
    ready_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_why = models.TextField(blank=True, default="")

    class Meta:
        ordering: ClassVar = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Return the desk's page of the notice."""
        return reverse("supply:notice", args=[self.pk])


class Statement(models.Model):
    """Something adverse that is to be said of a subject, on a case or in a notice."""

    subject = models.ForeignKey(Subject, on_delete=models.PROTECT, related_name="statements")
    case = models.ForeignKey(
        Case, null=True, blank=True, on_delete=models.CASCADE, related_name="statements"
    )
    notice = models.OneToOneField(
        Notice, null=True, blank=True, on_delete=models.CASCADE, related_name="statement"
    )
    text = models.TextField()
    version = models.PositiveIntegerField(default=1)
    written_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    written_by_name = models.CharField(max_length=80)
    written_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(case__isnull=True) ^ models.Q(notice__isnull=True),
                name="statement_of_case_or_notice",
            )
        ]

    def __str__(self) -> str:
        return f"Statement {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the page of the statement."""
        return reverse("supply:statement", args=[self.pk])


class EvidencePicture(models.Model):
    """A photo that shows what a statement says, and a word on what is to be seen."""

    statement = models.ForeignKey(Statement, on_delete=models.CASCADE, related_name="pictures")
    photo = models.ForeignKey(Photo, on_delete=models.CASCADE, related_name="+")
    shows = models.CharField(max_length=LINE_CHARS)

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["statement", "photo"], name="evidence_photo_once")
        ]

    def __str__(self) -> str:
        return self.shows


class Way(models.TextChoices):
    """How a maker was asked."""

    MAIL = "mail", "by e-mail from this desk"
    OWN_MAIL = "own_mail", "by e-mail from elsewhere"
    FORM = "form", "by a form on their page"
    POST = "post", "by post"
    PHONE = "phone", "by telephone"
    OTHER = "other", "another way"


class ReplyRequest(models.Model):
    """That the subject of a statement was asked for a reply: to what words, when, how, whom."""

    statement = models.ForeignKey(Statement, on_delete=models.CASCADE, related_name="requests")
    statement_text = models.TextField(help_text="The statement as it stood then.")
    text = models.TextField(help_text="The letter, or what was said.")
    way = models.CharField(max_length=8, choices=Way)
    to = models.CharField(max_length=LINE_CHARS)
    on_date = models.DateField()
    mail = models.ForeignKey(
        OutgoingMail, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    asked_by_name = models.CharField(max_length=80)
    noted_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["on_date", "pk"]

    def __str__(self) -> str:
        return f"Asked {self.on_date}"


class WordingOverride(models.Model):
    """A producer's reason to let a marked wording stand, in the sentence it stands in."""

    statement = models.ForeignKey(Statement, on_delete=models.CASCADE, related_name="overrides")
    rule = models.CharField(max_length=40)
    phrase = models.CharField(max_length=200, blank=True, default="")
    sentence = models.TextField(help_text="It holds as long as this sentence stands as it is.")
    reason = models.TextField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    by_name = models.CharField(max_length=80)
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["pk"]

    def __str__(self) -> str:
        return f"{self.rule}: {self.phrase}"


class NothingAdverse(models.Model):
    """That nothing adverse will be said of anybody on a case, and why.

    It covers the faults and the subjects there were then; a new one asks for a new decision.
    """

    case = models.OneToOneField(Case, on_delete=models.CASCADE, related_name="nothing_adverse")
    reason = models.TextField()
    faults = models.JSONField(default=list)
    subjects = models.JSONField(default=list, help_text="Ids.")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    by_name = models.CharField(max_length=80)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Nothing adverse is said on case {self.case_id}"


class RemarkKind(models.TextChoices):
    """What stands beside a subject whenever it comes up."""

    CORRECTION = "correction", "correction"
    REPLY = "reply", "reply"


class Remark(models.Model):
    """A standing correction or reply; a withdrawn one is kept in the history."""

    subject = models.ForeignKey(Subject, on_delete=models.PROTECT, related_name="remarks")
    statement = models.ForeignKey(
        Statement, null=True, blank=True, on_delete=models.SET_NULL, related_name="replies"
    )
    kind = models.CharField(max_length=10, choices=RemarkKind)
    said = models.TextField(blank=True, default="", help_text="What was said, as it was said.")
    text = models.TextField(help_text="What is right, or the words of the reply.")
    who = models.CharField(max_length=WHO_CHARS, help_text="Who asked for it, or who replied.")
    on_date = models.DateField()
    episode_number = models.PositiveIntegerField(null=True, blank=True)
    second = models.PositiveIntegerField(null=True, blank=True)
    noted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    noted_by_name = models.CharField(max_length=80)
    noted_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by_name = models.CharField(max_length=80, blank=True, default="")
    withdrawn_why = models.TextField(blank=True, default="")

    class Meta:
        ordering: ClassVar = ["-on_date", "-pk"]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(second__isnull=True) | models.Q(episode_number__isnull=False),
                name="remark_second_has_episode",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.on_date}"

    def get_absolute_url(self) -> str:
        """Return the place of the remark on its subject's page."""
        return f"{reverse('supply:subject', args=[self.subject_id])}#remark-{self.pk}"
