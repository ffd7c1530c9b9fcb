"""People, the addresses they can be reached at, and their parts in cases."""

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.urls import reverse

from helpdesk.cases.models import Case, CreditKind

NAME_CHARS = 80
LINK_CHARS = 500


class Person(models.Model):
    """Somebody whose prints, or whose finds, reached the desk."""

    name = models.CharField(max_length=NAME_CHARS, blank=True, default="")
    said_as = models.CharField(
        "how the name is said",
        max_length=NAME_CHARS,
        blank=True,
        default="",
        help_text="Spelt the way it sounds, for who reads the run sheet aloud.",
    )
    credit_kind = models.CharField(
        "wish for credits", max_length=10, choices=CreditKind, blank=True, default=""
    )
    notes = models.TextField(blank=True, default="", help_text="Only people of the desk read this.")
    first_seen_at = models.DateTimeField()
    merged_into = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.CASCADE, related_name="merged"
    )

    class Meta:
        ordering: ClassVar = ["-pk"]
        verbose_name_plural = "people"
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~models.Q(merged_into=models.F("id")), name="person_not_its_own_merge"
            )
        ]

    def __str__(self) -> str:
        return f"Person {self.pk}"

    def get_absolute_url(self) -> str:
        """Return the address of the person's page."""
        return reverse("people:person", args=[self.pk])

    @property
    def called(self) -> str:
        """Return how the desk speaks of them."""
        return self.name or f"Person {self.pk}, who gave no name"


class ContactKind(models.TextChoices):
    """What kind of address somebody can be reached at."""

    MAIL = "mail", "e-mail"
    HANDLE = "handle", "handle"
    LINK = "link", "link"


class Verified(models.TextChoices):
    """How the desk knows that an address is the person's."""

    SAID = "said", "given with a report"
    WROTE = "wrote", "they wrote from it"
    CHECKED = "checked", "checked by us"


class Contact(models.Model):
    """An address of a person. A mail address, and a handle in its place, is one person's only."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="contacts")
    kind = models.CharField(max_length=6, choices=ContactKind)
    value = models.CharField(max_length=LINK_CHARS, help_text="As it was given.")
    key = models.CharField(max_length=LINK_CHARS, help_text="The value in its one written form.")
    place = models.CharField(
        max_length=80, blank=True, default="", help_text="The server or network of a handle."
    )
    place_key = models.CharField(max_length=80, blank=True, default="")
    verified = models.CharField(max_length=7, choices=Verified, default=Verified.SAID)
    noted_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["pk"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["key"], condition=models.Q(kind="mail"), name="contact_mail_once"
            ),
            models.UniqueConstraint(
                fields=["key", "place_key"],
                condition=models.Q(kind="handle") & ~models.Q(place_key=""),
                name="contact_handle_once_a_place",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of person {self.person_id}"


class Role(models.TextChoices):
    """What somebody is to a case."""

    SUBMITTER = "submitter", "sent it"
    OWNER = "owner", "whose print it is"
    FINDER = "finder", "pointed it out"


class Part(models.Model):
    """The part a person has in a case; a case has one person for each role.

    The credit of who sent a case stands in the case's consent. The owner of a print that somebody
    else passed on has their own here.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="parts")
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="parts")
    role = models.CharField(max_length=9, choices=Role)
    via = models.ForeignKey(
        Contact,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="parts",
        help_text="The address by which the case was told to be theirs.",
    )
    credit_kind = models.CharField(max_length=10, choices=CreditKind, default=CreditKind.ANONYMOUS)
    credit_as = models.CharField(max_length=NAME_CHARS, blank=True, default="")

    class Meta:
        ordering: ClassVar = ["case_id", "role"]
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["case", "role"], name="part_one_person_a_role")
        ]

    def __str__(self) -> str:
        return f"{self.role} of case {self.case_id}"


class Merge(models.Model):
    """Two people told to be one: what moved, and what the kept one was before."""

    kept = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="merges")
    gone = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    contacts = models.JSONField(default=list, help_text="Ids of the contacts that moved.")
    parts = models.JSONField(default=list, help_text="Ids of the parts that moved.")
    before = models.JSONField(default=dict, help_text="Fields of the kept one that were filled.")
    after = models.JSONField(default=dict, help_text="What they were filled with.")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    at = models.DateTimeField()
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"Merge of person {self.gone_id} into {self.kept_id}"
