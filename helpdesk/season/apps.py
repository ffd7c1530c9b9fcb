"""Season: what was shown when, and what was not."""

from django.apps import AppConfig


class SeasonConfig(AppConfig):
    """Season: what was shown when, and what was not."""

    name = "helpdesk.season"
    verbose_name = "The season"
