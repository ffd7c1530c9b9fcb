"""Outbox: letters as rows until they are sent."""

from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class OutboxConfig(AppConfig):
    """Outbox: letters as rows until they are sent."""

    name = "helpdesk.outbox"
    verbose_name = "Outbox"

    def ready(self) -> None:
        """Register what each app carries about a case."""
        autodiscover_modules("deliveries")
