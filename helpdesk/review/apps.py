"""Review: the queue and the case page."""

from django.apps import AppConfig


class ReviewConfig(AppConfig):
    """Review: the queue and the case page."""

    name = "helpdesk.review"
    verbose_name = "Review"
