"""Week: how long people wait, and what became of their prints."""

from django.apps import AppConfig


class WeekConfig(AppConfig):
    """Week: how long people wait, and what became of their prints."""

    name = "helpdesk.week"
    verbose_name = "The week"
