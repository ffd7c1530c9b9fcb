"""Core: what every other app may use."""

from django.apps import AppConfig


class CoreConfig(AppConfig):
    """The app at the bottom; it knows no other app."""

    name = "helpdesk.core"
    verbose_name = "Desk core"

    def ready(self) -> None:
        """Register the desk's own start-up checks."""
        from helpdesk.core import checks  # noqa: F401, PLC0415 - registering needs loaded settings
