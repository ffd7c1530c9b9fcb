"""Learning: what the desk's own cases teach, numbered and put in force by hand."""

from django.apps import AppConfig


class LearningConfig(AppConfig):
    """Learning from the desk's own cases."""

    name = "helpdesk.learning"
    verbose_name = "Learning"
