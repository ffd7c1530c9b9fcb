"""A case and everything recorded about it."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.urls import reverse

TOKEN_HASH_CHARS = 64  # SHA-256 in hexadecimal
# What a person may say did it instead of a step of the answer; no action has these ids.
SOMETHING_ELSE = "something-else"
NOT_KNOWN = "not-known"


class Process(models.TextChoices):
    """Process names after ISO/ASTM 52900; UNKNOWN is what a person may say too."""

    MEX = "MEX", "Extrusion (MEX)"
    VPP = "VPP", "Resin (VPP)"
    UNKNOWN = "", "Not known"


class CaseState(models.TextChoices):
    """Whose turn it is."""

    RECEIVED = "received", "Received"
    ASKED = "asked", "Asked"
    ANSWERED = "answered", "Answered"
    CLOSED = "closed", "Closed"


class Channel(models.TextChoices):
    """The route a report came by."""

    WEB = "web", "web form"
    MAIL = "mail", "e-mail"
    CHAT = "chat", "chat server"
    DIRECT = "direct", "direct message"
    SOCIAL = "social", "social post"
    PERSON = "person", "in person"
    OTHER = "other", "another way"


class CreditKind(models.TextChoices):
    """How a person wants to be named."""

    NAME = "name", "by name"
    HANDLE = "handle", "by handle"
    ANONYMOUS = "anonymous", "not named"


class QueueRank(models.IntegerChoices):
    """The first sort key of the queue; lower stands higher."""

    DANGER = 0, "danger"
    OURS = 1, "our turn"
    THEIRS = 2, "the person's turn"
    ANSWERED = 3, "waiting for the outcome"
    CLOSED = 9, "closed"
    JOINED = 10, "joined to another case"


class Case(models.Model):
    """The desk's record of one failed print."""

    title = models.CharField(max_length=120)
    state = models.CharField(max_length=10, choices=CaseState, default=CaseState.RECEIVED)
    opened_at = models.DateTimeField()
    waiting_since = models.DateTimeField(help_text="When the present turn began.")
    closed_at = models.DateTimeField(null=True, blank=True)
    queue_rank = models.SmallIntegerField(choices=QueueRank, default=QueueRank.OURS)
    channel = models.CharField(max_length=10, choices=Channel, default=Channel.WEB)
    assigned_to = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="cases",
    )
    taken_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    process = models.CharField(max_length=3, choices=Process, blank=True, default="")
    machine = models.CharField(max_length=80, blank=True, default="")
    material = models.CharField(max_length=40, blank=True, default="")
    material_maker = models.CharField(max_length=80, blank=True, default="")
    batch = models.CharField(max_length=60, blank=True, default="")
    layer_height_mm = models.FloatField(null=True, blank=True)
    nozzle_mm = models.FloatField(null=True, blank=True)
    nozzle_c = models.FloatField(null=True, blank=True)
    bed_c = models.FloatField(null=True, blank=True)
    speed_mm_s = models.FloatField(null=True, blank=True)
    failed_at_mm = models.FloatField(null=True, blank=True)
    tried = models.TextField(blank=True, default="")

    person_name = models.CharField(max_length=80, blank=True, default="")
    reply_channel = models.CharField(max_length=10, choices=Channel, default=Channel.MAIL)
    email = models.EmailField(blank=True, default="")
    handle = models.CharField(max_length=80, blank=True, default="")
    handle_where = models.CharField(
        max_length=80, blank=True, default="", help_text="Which channel the handle belongs to."
    )
    is_own_print = models.BooleanField(default=True)
    owner_name = models.CharField(max_length=80, blank=True, default="")
    owner_link = models.URLField(max_length=500, blank=True, default="")

    # The latest consent, copied here so that lists need no join; ConsentRecord is the proof.
    may_publish_answer = models.BooleanField(default=False)
    may_show_photos = models.BooleanField(default=False)
    credit_kind = models.CharField(max_length=10, choices=CreditKind, default=CreditKind.ANONYMOUS)
    credit_as = models.CharField(max_length=80, blank=True, default="")
    is_under_16 = models.BooleanField(default=False)
    guardian_agreed = models.BooleanField(default=False)

    # The engine's latest view, copied for the queue; diagnosis keeps the whole of it.
    top_fault = models.CharField(max_length=60, blank=True, default="")
    top_fault_name = models.CharField(max_length=120, blank=True, default="")
    top_probability = models.FloatField(null=True, blank=True)
    danger_name = models.CharField(max_length=120, blank=True, default="")

    # Never a chain: every joined case names the lead, whichever case it came along with.
    joined_to = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="joined",
        help_text="The lead case, when both are about the same print.",
    )
    joined_with = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
        help_text="The former lead this case came along with; parting that one takes it along.",
    )

    follow_up_on = models.DateField(null=True, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["queue_rank", "waiting_since", "pk"]
        indexes: ClassVar = [
            models.Index(fields=["queue_rank", "waiting_since", "id"], name="case_queue"),
            models.Index(fields=["assigned_to", "queue_rank", "waiting_since"], name="case_whose"),
            models.Index(fields=["opened_at"], name="case_came"),
            models.Index(
                fields=["follow_up_on"],
                condition=models.Q(follow_up_on__isnull=False),
                name="case_follow_up",
            ),
            models.Index(
                fields=["closed_at"],
                condition=models.Q(closed_at__isnull=False),
                name="case_closed",
            ),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(state__in=CaseState.values), name="case_state_known"
            ),
            models.CheckConstraint(
                condition=models.Q(top_probability__isnull=True)
                | models.Q(top_probability__gte=0, top_probability__lte=1),
                name="case_probability_range",
            ),
            models.CheckConstraint(
                condition=~models.Q(joined_to=models.F("id")), name="case_not_joined_to_itself"
            ),
        ]

    def __str__(self) -> str:
        return f"Case {self.pk}: {self.title}"

    def get_absolute_url(self) -> str:
        """Return the address of the case page."""
        return reverse("review:case", args=[self.pk])

    @property
    def may_show_in_public(self) -> bool:
        """Return True when photos may be shown: agreed, and by a guardian for the young."""
        return self.may_show_photos and (self.guardian_agreed or not self.is_under_16)

    @property
    def may_answer_in_public(self) -> bool:
        """Return True when the answer may be published, under the same rule."""
        return self.may_publish_answer and (self.guardian_agreed or not self.is_under_16)

    @property
    def spoken_credit(self) -> str:
        """Return the name to say aloud, or "" when the person is not to be named."""
        if self.credit_kind == CreditKind.ANONYMOUS or (
            self.is_under_16 and not self.guardian_agreed
        ):
            return ""
        return self.credit_as or (
            self.handle if self.credit_kind == CreditKind.HANDLE else self.person_name
        )

    @property
    def allowed_uses(self) -> frozenset[str]:
        """Return what may be made public at this moment: answer, photos, name."""
        uses = {
            "answer": self.may_answer_in_public,
            "photos": self.may_show_in_public,
            "name": bool(self.spoken_credit),
        }
        return frozenset(name for name, is_allowed in uses.items() if is_allowed)

    @property
    def person(self) -> str:
        """Return how the desk speaks of who sent it."""
        return self.person_name or self.handle or "somebody who gave no name"


class Report(models.Model):
    """What a person sent, as it was sent."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="reports")
    channel = models.CharField(max_length=10, choices=Channel, default=Channel.WEB)
    story = models.TextField()
    facts = models.JSONField(default=dict, help_text="The other fields, word for word.")
    received_at = models.DateTimeField()
    submission_key = models.CharField(max_length=200, unique=True)
    link = models.URLField(
        max_length=500, blank=True, default="", help_text="Where it stood before it came here."
    )
    keeps_originals = models.BooleanField(default=False)

    class Meta:
        ordering: ClassVar = ["received_at", "pk"]

    def __str__(self) -> str:
        return f"Report of case {self.case_id}"


class AccessLink(models.Model):
    """A private address of a case; only the hash of its token is kept."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="links")
    token_hash = models.CharField(max_length=TOKEN_HASH_CHARS, unique=True)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"Link to case {self.case_id}"


class MessageKind(models.TextChoices):
    """What a message is for."""

    QUESTION = "question", "question"
    REPLY = "reply", "reply"
    ANSWER = "answer", "answer"
    RECEIPT = "receipt", "receipt"
    FOLLOW_UP = "follow_up", "follow-up"
    NOTE = "note", "internal note"


class Message(models.Model):
    """Words between the desk and the person, or a note between reviewers."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="messages")
    kind = models.CharField(max_length=10, choices=MessageKind)
    channel = models.CharField(
        max_length=10,
        choices=Channel,
        blank=True,
        default="",
        help_text="The route it came or went.",
    )
    body = models.TextField(blank=True)
    questions = models.JSONField(
        default=list, blank=True, help_text="List of {finding, question, help, reply}."
    )
    author = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    author_name = models.CharField(max_length=80, blank=True, default="")
    sent_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["sent_at", "pk"]

    def __str__(self) -> str:
        return f"{self.kind} on case {self.case_id}"


class ConsentRecord(models.Model):
    """What was agreed, when, in which words; never changed, only followed by a newer one."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="consents")
    may_publish_answer = models.BooleanField()
    may_show_photos = models.BooleanField()
    credit_kind = models.CharField(max_length=10, choices=CreditKind)
    credit_as = models.CharField(max_length=80, blank=True, default="")
    is_under_16 = models.BooleanField()
    guardian_agreed = models.BooleanField()
    wording = models.CharField(
        max_length=20, help_text="Version of the form's wording, or that it was told."
    )
    quote = models.TextField(
        blank=True, default="", help_text="What the person said, when they told a reviewer."
    )
    quote_where = models.CharField(max_length=80, blank=True, default="")
    given_by = models.CharField(max_length=80)
    given_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["given_at", "pk"]

    def __str__(self) -> str:
        return f"Consent on case {self.case_id} of {self.given_at:%Y-%m-%d}"


class OutcomeResult(models.TextChoices):
    """Whether what was advised worked."""

    WORKED = "worked", "Worked"
    PARTLY = "partly", "Helped a little"
    DID_NOT_WORK = "failed", "Did not work"
    NOT_TRIED = "untried", "Not tried"
    GAVE_UP = "gave_up", "Gave up"


class Outcome(models.Model):
    """What the person says became of the print."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="outcomes")
    result = models.CharField(max_length=8, choices=OutcomeResult)
    remedy = models.CharField(
        max_length=60,
        blank=True,
        default="",
        help_text="Action id of the step that did it, something-else or not-known.",
    )
    words = models.TextField(blank=True, default="")
    said_by = models.CharField(max_length=80)
    said_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["said_at", "pk"]

    def __str__(self) -> str:
        return f"Case {self.case_id}: {self.result}"


class Appearance(models.Model):
    """Where a case was shown: an episode and the second it begins."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="appearances")
    episode_number = models.PositiveIntegerField()
    episode_title = models.CharField(max_length=120)
    starts_at_s = models.PositiveIntegerField()
    on_date = models.DateField()
    link = models.URLField(max_length=500, blank=True, default="")

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["case", "episode_number"], name="appearance_once_an_episode"
            )
        ]

    def __str__(self) -> str:
        return f"Case {self.case_id} in episode {self.episode_number}"


class Event(models.Model):
    """One change: what, when, by whom and why. Written once, never edited."""

    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="events")
    kind = models.CharField(max_length=30)
    at = models.DateTimeField()
    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL
    )
    actor_name = models.CharField(max_length=80)
    what = models.CharField(max_length=200)
    why = models.TextField(blank=True, default="")
    data = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering: ClassVar = ["at", "pk"]
        indexes: ClassVar = [models.Index(fields=["case", "at"], name="event_of_case")]

    def __str__(self) -> str:
        return f"{self.kind} on case {self.case_id}"
