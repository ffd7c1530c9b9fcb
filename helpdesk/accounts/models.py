"""The people who work at the desk."""

from typing import ClassVar

from django.contrib.auth.models import AbstractUser
from django.db import models


class User(AbstractUser):
    """A reviewer, producer or admin."""

    spoken_name = models.CharField(
        "name as said aloud", max_length=80, blank=True, help_text="How the run sheet names you."
    )
    has_keys = models.BooleanField(
        "single-key shortcuts", default=True, help_text="Move, take and open cases with one key."
    )

    class Meta(AbstractUser.Meta):
        permissions: ClassVar = [
            ("review_cases", "Can review, answer and follow up cases"),
            ("produce_episodes", "Can make episodes and run sheets"),
            ("run_desk", "Can see the outbox, jobs and accounts"),
        ]

    @property
    def short_name(self) -> str:
        """Return the name shown beside a case."""
        return self.first_name or self.spoken_name or self.username
