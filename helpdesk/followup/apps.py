"""Follow-up: asking how it went."""

from django.apps import AppConfig


class FollowupConfig(AppConfig):
    """Follow-up: asking how it went."""

    name = "helpdesk.followup"
    verbose_name = "Follow-up"
