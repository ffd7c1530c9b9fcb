"""Incoming: the one way a report or a reply gets in, whatever its channel."""

from django.apps import AppConfig


class IncomingConfig(AppConfig):
    """Incoming: the one way a report or a reply gets in, whatever its channel."""

    name = "helpdesk.incoming"
    verbose_name = "Incoming"
