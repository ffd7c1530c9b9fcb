"""Keeping: what was agreed, for how long data is kept, and handing it out."""

from django.apps import AppConfig


class KeepingConfig(AppConfig):
    """Keeping: what was agreed, for how long data is kept, and handing it out."""

    name = "helpdesk.keeping"
    verbose_name = "Keeping"
