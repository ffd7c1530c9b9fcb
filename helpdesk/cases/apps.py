"""Cases: what was reported and what became of it."""

from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class CasesConfig(AppConfig):
    """Cases: what was reported and what became of it."""

    name = "helpdesk.cases"
    verbose_name = "Cases"

    def ready(self) -> None:
        """Register how each app forgets a person."""
        autodiscover_modules("erasure")
