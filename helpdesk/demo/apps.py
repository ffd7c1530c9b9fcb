"""Demo: one invented clinic to try the desk on, and loads to measure it with."""

from django.apps import AppConfig


class DemoConfig(AppConfig):
    """Demo: one invented clinic to try the desk on, and loads to measure it with."""

    name = "helpdesk.demo"
    verbose_name = "Demo"
