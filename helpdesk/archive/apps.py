"""Archive: captions of past episodes, cut into segments."""

from django.apps import AppConfig


class ArchiveConfig(AppConfig):
    """Archive: captions of past episodes, cut into segments."""

    name = "helpdesk.archive"
    verbose_name = "Archive"
