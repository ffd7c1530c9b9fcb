"""Cases: what was reported and what became of it."""

from django.apps import AppConfig


class CasesConfig(AppConfig):
    """Cases: what was reported and what became of it."""

    name = "helpdesk.cases"
    verbose_name = "Cases"
