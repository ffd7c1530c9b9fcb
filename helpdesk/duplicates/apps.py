"""Duplicates: the same print reported twice."""

from django.apps import AppConfig


class DuplicatesConfig(AppConfig):
    """Duplicates: the same print reported twice."""

    name = "helpdesk.duplicates"
    verbose_name = "Duplicates"
