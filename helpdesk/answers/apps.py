"""Answers: drafts, sent answers and published ones."""

from django.apps import AppConfig


class AnswersConfig(AppConfig):
    """Answers: drafts, sent answers and published ones."""

    name = "helpdesk.answers"
    verbose_name = "Answers"
