"""Presenting: the show as it runs, part by part."""

from django.apps import AppConfig


class PresentingConfig(AppConfig):
    """Presenting: the show as it runs, part by part."""

    name = "helpdesk.presenting"
    verbose_name = "Presenting"
