"""Choosing: which cases make the best show for the minutes there are."""

from django.apps import AppConfig


class ChoosingConfig(AppConfig):
    """Choosing: which cases make the best show for the minutes there are."""

    name = "helpdesk.choosing"
    verbose_name = "Choosing"
