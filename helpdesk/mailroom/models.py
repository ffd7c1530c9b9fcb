"""Letters that came in, as rows beside their raw files."""

from typing import ClassVar

from django.core.files.storage import Storage, storages
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Case
from helpdesk.mailroom.automatic import Kind


def letter_storage() -> Storage:
    """Return the private storage of raw letters."""
    return storages["letters"]


class MailState(models.TextChoices):
    """What became of a letter."""

    WAITING = "waiting", "waiting to be read"
    TAKEN = "taken", "taken to a case"
    KEPT = "kept", "kept"
    QUARANTINED = "quarantined", "set aside for a look"
    DISMISSED = "dismissed", "looked at, nothing to do"
    ERASED = "erased", "erased"


class Effect(models.TextChoices):
    """What a letter did to its case."""

    NONE = "", "nothing"
    REPORT = "report", "opened the case"
    REPLY = "reply", "a reply"


class IncomingMail(models.Model):
    """One letter as it came. Its raw bytes are kept before anything is read.

    The sum of the bytes names it, so the same bytes are one row however often they come. An erased
    letter leaves its sum behind and nothing else, so that a mailbox read again brings nothing back.
    """

    sha256 = models.CharField(max_length=64, unique=True)
    file = models.FileField(storage=letter_storage, upload_to="", max_length=200, blank=True)
    size_bytes = models.PositiveBigIntegerField()
    origin = models.CharField(max_length=120, help_text="The mailbox or command it came by.")
    is_polled = models.BooleanField(default=False, help_text="Fetched by the desk on its own.")
    wants_receipt = models.BooleanField(default=True)
    received_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=MailState, default=MailState.WAITING)
    kind = models.CharField(max_length=10, choices=Kind, blank=True, default="")
    reason = models.CharField(max_length=300, blank=True, default="")

    message_id = models.CharField(max_length=998, blank=True, default="", db_index=True)
    content_sha256 = models.CharField(max_length=64, blank=True, default="")
    sent_at = models.DateTimeField(null=True, blank=True, help_text="As the letter says.")
    sender = models.CharField(max_length=254, blank=True, default="")
    sender_name = models.CharField(max_length=80, blank=True, default="")
    subject = models.CharField(max_length=200, blank=True, default="")
    text = models.TextField(blank=True, default="", help_text="All of its text.")
    words = models.TextField(blank=True, default="", help_text="What of it is new.")
    fields = models.JSONField(default=list, blank=True, help_text="[name, value] as shown.")
    notes = models.JSONField(default=list, blank=True, help_text="Sentences for a reviewer.")
    files = models.JSONField(default=list, blank=True, help_text="Names of its files.")
    owner_name = models.CharField(max_length=80, blank=True, default="")
    owner_address = models.CharField(max_length=254, blank=True, default="")
    is_from_another = models.BooleanField(
        default=False, help_text="A reply from another address than the person's."
    )

    case = models.ForeignKey(
        Case, null=True, blank=True, on_delete=models.SET_NULL, related_name="letters_in"
    )
    effect = models.CharField(max_length=6, choices=Effect, blank=True, default="")
    suggested_case = models.ForeignKey(
        Case, null=True, blank=True, on_delete=models.SET_NULL, related_name="letters_maybe"
    )
    acknowledged_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-received_at", "-pk"]
        indexes: ClassVar = [
            models.Index(fields=["state", "received_at", "id"], name="letter_in_state"),
            models.Index(fields=["sender", "received_at"], name="letter_in_sender"),
        ]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(state__in=MailState.values), name="letter_in_state_known"
            ),
        ]

    def __str__(self) -> str:
        return f"Letter {self.pk} ({self.state})"

    def get_absolute_url(self) -> str:
        """Return the address of the letter's page."""
        return reverse("mailroom:letter", args=[self.pk])


class Mailbox(models.Model):
    """What the desk remembers of a mailbox it reads; its password is in the environment only."""

    name = models.CharField(max_length=200, unique=True, help_text="Without the password.")
    uid_validity = models.PositiveBigIntegerField(null=True, blank=True)
    last_uid = models.PositiveBigIntegerField(default=0)
    lease_until = models.DateTimeField(null=True, blank=True)
    polled_at = models.DateTimeField(null=True, blank=True)
    failed_since = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        verbose_name_plural = "mailboxes"

    def __str__(self) -> str:
        return self.name


class SeenLetter(models.Model):
    """A letter of a POP3 mailbox that is here already, by the server's id (RFC 1939 UIDL)."""

    mailbox = models.ForeignKey(Mailbox, on_delete=models.CASCADE, related_name="seen")
    uid = models.CharField(max_length=70)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["mailbox", "uid"], name="seen_letter_once"),
        ]

    def __str__(self) -> str:
        return f"Letter {self.uid} of mailbox {self.mailbox_id}"
