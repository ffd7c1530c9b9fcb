"""API: reports and replies as JSON, for programs with a token."""

from django.apps import AppConfig


class ApiConfig(AppConfig):
    """API: reports and replies as JSON, for programs with a token."""

    name = "helpdesk.api"
    verbose_name = "API"
