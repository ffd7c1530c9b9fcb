"""Mailroom: letters that come in."""

from django.apps import AppConfig


class MailroomConfig(AppConfig):
    """Mailroom: letters that come in."""

    name = "helpdesk.mailroom"
    verbose_name = "Mailroom"
