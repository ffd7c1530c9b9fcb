"""Capture: reports that a reviewer brings in by hand or from a table."""

from django.apps import AppConfig


class CaptureConfig(AppConfig):
    """Capture: reports that a reviewer brings in by hand or from a table."""

    name = "helpdesk.capture"
    verbose_name = "Capture"
