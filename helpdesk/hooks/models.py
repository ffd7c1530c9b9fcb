"""Who may tell the desk something by hook, whom the desk tells, and what went either way.

Secrets stand here as they are: both sides of an HMAC need them to sign.
"""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Case, Channel, Event

SHA256_CHARS = 64  # in hexadecimal
SECRET_CHARS = 120  # whsec_ and 64 bytes in base64 are 94
CHAT_LENGTH = 1800  # characters of one message [judgement: desk design, 2026-11]


class HookSource(models.Model):
    """A program that reports to the desk, such as a community's chat bot."""

    name = models.CharField(max_length=80, unique=True)
    public_id = models.CharField(max_length=40, unique=True)
    channel = models.CharField(max_length=10, choices=Channel, default=Channel.CHAT)
    handle_where = models.CharField(
        max_length=80, blank=True, default="", help_text="Which channel its handles belong to."
    )
    picture_hosts = models.JSONField(
        default=list, blank=True, help_text="Hosts that pictures may be fetched from."
    )
    length_limit = models.PositiveIntegerField(default=CHAT_LENGTH)
    secret = models.CharField(max_length=SECRET_CHARS)
    previous_secret = models.CharField(max_length=SECRET_CHARS, blank=True, default="")
    previous_until = models.DateTimeField(null=True, blank=True)
    is_active = models.BooleanField(default=True)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering: ClassVar = ["name"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Return the address of its page."""
        return reverse("hooks:source", args=[self.pk])


class HookConversation(models.Model):
    """Which case a conversation of a source is about; the source chose its name."""

    source = models.ForeignKey(HookSource, on_delete=models.CASCADE, related_name="conversations")
    name = models.CharField(max_length=200)
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="hook_conversations")

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["source", "name"], name="hook_conversation_once")
        ]

    def __str__(self) -> str:
        return f"Conversation {self.pk} of {self.source_id}"


class MessageState(models.TextChoices):
    """What became of a message that came in."""

    WAITING = "waiting", "waiting"
    TAKEN = "taken", "taken"
    REFUSED = "refused", "refused"


class HookMessage(models.Model):
    """One message that came in: the row is the proof that it was taken, and that only once."""

    source = models.ForeignKey(HookSource, on_delete=models.CASCADE, related_name="messages")
    id_hash = models.CharField(max_length=SHA256_CHARS)
    body_hash = models.CharField(max_length=SHA256_CHARS)
    kind = models.CharField(max_length=40)
    conversation = models.CharField(max_length=200, blank=True, default="")
    body = models.TextField(blank=True, default="", help_text="As it came; emptied after a while.")
    state = models.CharField(max_length=8, choices=MessageState, default=MessageState.WAITING)
    why = models.CharField(max_length=300, blank=True, default="")
    case = models.ForeignKey(
        Case, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    received_at = models.DateTimeField(db_index=True)

    class Meta:
        ordering: ClassVar = ["-received_at", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["source", "id_hash"], name="hook_message_once")
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["source", "conversation"],
                condition=~models.Q(conversation=""),
                name="hook_message_talk",
            ),
            models.Index(
                fields=["id"], condition=models.Q(state="waiting"), name="hook_message_waiting"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}"


class PictureState(models.TextChoices):
    """What became of a picture that was only named."""

    WAITING = "waiting", "waiting"
    KEPT = "kept", "kept"
    REFUSED = "refused", "refused"


class HookPicture(models.Model):
    """A picture a message named by its address; it is fetched afterwards."""

    message = models.ForeignKey(HookMessage, on_delete=models.CASCADE, related_name="pictures")
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="+")
    url = models.TextField(blank=True, default="", help_text="Emptied once it is not needed.")
    label = models.CharField(max_length=200, blank=True, default="")
    alt_text = models.CharField(max_length=500, blank=True, default="")
    is_follow_up = models.BooleanField(default=False)
    state = models.CharField(max_length=8, choices=PictureState, default=PictureState.WAITING)
    tries = models.PositiveSmallIntegerField(default=0)

    def __str__(self) -> str:
        return f"Picture {self.pk} of case {self.case_id}"


class HookTarget(models.Model):
    """A program the desk tells what happens to cases."""

    name = models.CharField(max_length=80, unique=True)
    url = models.CharField(max_length=1000)
    source = models.ForeignKey(
        HookSource,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="targets",
        help_text="The source whose cases it hears of, with all words; without one it hears of "
        "every case and of nothing personal.",
    )
    kinds = models.JSONField(default=list, help_text="The events it wants, by type.")
    secret = models.CharField(max_length=SECRET_CHARS)
    previous_secret = models.CharField(max_length=SECRET_CHARS, blank=True, default="")
    previous_until = models.DateTimeField(null=True, blank=True)
    is_active = models.BooleanField(default=True)
    stopped_why = models.CharField(max_length=300, blank=True, default="")
    failing_since = models.DateTimeField(null=True, blank=True)
    not_before = models.DateTimeField(
        null=True, blank=True, help_text="The receiver asked to wait until then."
    )
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering: ClassVar = ["name"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Return the address of its page."""
        return reverse("hooks:target", args=[self.pk])


class DeliveryState(models.TextChoices):
    """Where a message that goes out stands."""

    WAITING = "waiting", "waiting"
    SENDING = "sending", "sending"
    SENT = "sent", "sent"
    GIVEN_UP = "given_up", "given up"


class HookDelivery(models.Model):
    """One event for one target; its id stays the same however often it is sent."""

    target = models.ForeignKey(HookTarget, on_delete=models.CASCADE, related_name="deliveries")
    case = models.ForeignKey(
        Case, null=True, blank=True, on_delete=models.CASCADE, related_name="hook_deliveries"
    )
    event = models.ForeignKey(
        Event, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    webhook_id = models.CharField(max_length=60, unique=True)
    kind = models.CharField(max_length=40)
    body = models.TextField(help_text="{private_link} becomes the person's page when sent.")
    state = models.CharField(max_length=8, choices=DeliveryState, default=DeliveryState.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    plans = models.PositiveIntegerField(default=0, help_text="Counts the jobs made for it.")
    due_at = models.DateTimeField()
    held_until = models.DateTimeField(null=True, blank=True)
    last_status = models.PositiveSmallIntegerField(null=True, blank=True)
    last_words = models.CharField(max_length=300, blank=True, default="")
    created_at = models.DateTimeField(db_index=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-created_at", "-pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["target", "event"], name="hook_delivery_once")
        ]

    def __str__(self) -> str:
        return f"{self.kind} to {self.target_id}"
