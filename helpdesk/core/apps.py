"""Core: what every other app may use."""

from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class CoreConfig(AppConfig):
    """The app at the bottom; it knows no other app."""

    name = "helpdesk.core"
    verbose_name = "Desk core"

    def ready(self) -> None:
        """Register the desk's own start-up checks and every app's job handlers."""
        from helpdesk.core import checks  # noqa: F401, PLC0415 - registering needs loaded settings

        # Celery does this in its worker only; jobs also run in commands and tests.
        autodiscover_modules("tasks")
