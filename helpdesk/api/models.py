"""Who may use the API, and what keeps its calls exact: keys, uploads, public references."""

import datetime
from typing import ClassVar

from django.conf import settings
from django.core.files.storage import storages
from django.core.files.storage.base import Storage
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Case, Channel
from helpdesk.core import clock

SHA256_CHARS = 64  # in hexadecimal
REF_CHARS = 32


def upload_storage() -> Storage:
    """Return the private storage of files that wait for their report."""
    return storages["uploads"]


class Scope(models.TextChoices):
    """What a token may do; each is granted by itself."""

    REPORT_WRITE = "report:write", "send reports, with pictures and files"
    REPLY_WRITE = "reply:write", "add replies to its own cases"
    OUTCOME_WRITE = "outcome:write", "tell what became of the print"
    CASE_READ = "case:read", "read its own cases: state, questions, answers"
    LINK_READ = "link:read", "read the person’s private link, to hand it to them"
    EVENT_READ = "event:read", "read what happened to its own cases"
    LIBRARY_READ = "library:read", "search the published answers"


class ChannelToken(models.Model):
    """A program's permission; the token itself is shown once and only its hash is kept."""

    name = models.CharField(max_length=80, unique=True)
    channel = models.CharField(max_length=10, choices=Channel, default=Channel.CHAT)
    handle_where = models.CharField(
        max_length=80, blank=True, default="", help_text="Which channel its handles belong to."
    )
    scopes = models.JSONField(default=list)
    picture_hosts = models.JSONField(
        default=list, blank=True, help_text="Hosts that pictures of posts may be fetched from."
    )
    token_hash = models.CharField(max_length=SHA256_CHARS, unique=True)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_on = models.DateField(null=True, blank=True)
    heard_up_to = models.BigIntegerField(
        default=0, help_text="The last event it said it has read, by continuing after it."
    )

    class Meta:
        ordering: ClassVar = ["name"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Return the address of its page."""
        return reverse("api:token", args=[self.pk])

    @property
    def is_alive(self) -> bool:
        """Return True while the token opens anything."""
        return self.revoked_at is None and self.expires_at > clock.now()

    @property
    def granted(self) -> list[str]:
        """Return what it may do, in words."""
        return [str(Scope(name).label) for name in self.scopes if name in Scope.values]

    def may(self, scope: str) -> bool:
        """Return whether a scope was granted."""
        return scope in self.scopes


class CaseRef(models.Model):
    """The public name of a case for the program it came by; it tells nothing and stays."""

    token = models.ForeignKey(ChannelToken, on_delete=models.PROTECT, related_name="case_refs")
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="api_refs")
    ref = models.CharField(max_length=REF_CHARS, unique=True)
    created_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["token", "case"], name="api_case_once_a_token")
        ]

    def __str__(self) -> str:
        return f"Reference {self.pk} to case {self.case_id}"


class SentKey(models.Model):
    """One idempotency key: what was asked under it, and what was answered."""

    token = models.ForeignKey(ChannelToken, on_delete=models.CASCADE, related_name="sent_keys")
    key_hash = models.CharField(max_length=SHA256_CHARS)
    fingerprint = models.CharField(max_length=SHA256_CHARS)
    started_at = models.DateTimeField(db_index=True)
    status = models.PositiveSmallIntegerField(null=True, blank=True)
    body = models.JSONField(default=dict, blank=True)
    case = models.ForeignKey(
        Case, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["token", "key_hash"], name="api_key_once_a_token")
        ]

    def __str__(self) -> str:
        return f"Key {self.pk} of {self.token_id}"


class Upload(models.Model):
    """A file that waits for the report or reply it belongs to."""

    LIFE = datetime.timedelta(hours=24)

    token = models.ForeignKey(ChannelToken, on_delete=models.CASCADE, related_name="uploads")
    public_id = models.CharField(max_length=REF_CHARS, unique=True)
    label = models.CharField(max_length=120)
    alt_text = models.CharField(max_length=300, blank=True, default="")
    file = models.FileField(storage=upload_storage, upload_to="", max_length=200)
    size_bytes = models.PositiveBigIntegerField()
    received_at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"Upload {self.pk} of {self.token_id}"

    @property
    def expires_at(self) -> datetime.datetime:
        """Return until when it may be used."""
        return self.received_at + self.LIFE


class PostedNote(models.Model):
    """Which case a post belongs to, by the hash of its id, so that replies find it.

    It stays when a person is erased, so that a post which comes again is not taken anew.
    """

    key = models.CharField(max_length=SHA256_CHARS + 6, unique=True)
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="+")

    def __str__(self) -> str:
        return f"Post of case {self.case_id}"


class NotePicture(models.Model):
    """A picture a post names by its address; it is fetched afterwards, and then forgotten."""

    token = models.ForeignKey(ChannelToken, on_delete=models.CASCADE, related_name="+")
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="+")
    address = models.TextField()
    label = models.CharField(max_length=120)
    alt_text = models.CharField(max_length=300, blank=True, default="")
    is_follow_up = models.BooleanField(default=False)
    tries = models.PositiveSmallIntegerField(default=0)

    def __str__(self) -> str:
        return f"Picture {self.pk} of case {self.case_id}"
