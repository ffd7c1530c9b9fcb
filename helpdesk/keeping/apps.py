"""Keeping: what was agreed, for how long data is kept, and handing it out."""

from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class KeepingConfig(AppConfig):
    """Keeping: what was agreed, for how long data is kept, and handing it out."""

    name = "helpdesk.keeping"
    verbose_name = "Keeping"

    def ready(self) -> None:
        """Load what apps hand out of a person, and for how long they keep what they have."""
        autodiscover_modules("exporting", "retention")
