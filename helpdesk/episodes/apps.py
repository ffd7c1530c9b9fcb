"""Episodes: candidates, run sheets and timing."""

from django.apps import AppConfig


class EpisodesConfig(AppConfig):
    """Episodes: candidates, run sheets and timing."""

    name = "helpdesk.episodes"
    verbose_name = "Episodes"
