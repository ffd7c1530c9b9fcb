"""People: one person with several addresses and names."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """People: one person with several addresses and names."""

    name = "helpdesk.people"
    verbose_name = "People"
