"""Intake: the public form and the private tracking page."""

from django.apps import AppConfig


class IntakeConfig(AppConfig):
    """Intake: the public form and the private tracking page."""

    name = "helpdesk.intake"
    verbose_name = "Intake"
