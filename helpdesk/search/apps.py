"""Search: everything ever reported and answered, by words."""

from django.apps import AppConfig


class SearchConfig(AppConfig):
    """Search: everything ever reported and answered, by words."""

    name = "helpdesk.search"
    verbose_name = "Search"
