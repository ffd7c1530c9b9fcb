"""Outbox: letters as rows until they are sent."""

from django.apps import AppConfig


class OutboxConfig(AppConfig):
    """Outbox: letters as rows until they are sent."""

    name = "helpdesk.outbox"
    verbose_name = "Outbox"
