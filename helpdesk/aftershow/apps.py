"""After the show: chapters, credits, the supporters’ roll, letters to those shown."""

from django.apps import AppConfig


class AftershowConfig(AppConfig):
    """After the show: chapters, credits, the supporters’ roll, letters to those shown."""

    name = "helpdesk.aftershow"
    verbose_name = "After the show"
