"""Hooks: signed messages from and to other programs."""

from django.apps import AppConfig


class HooksConfig(AppConfig):
    """Hooks: signed messages from and to other programs."""

    name = "helpdesk.hooks"
    verbose_name = "Hooks"
