"""Supply: notices about bought parts and materials, right of reply, corrections."""

from django.apps import AppConfig


class SupplyConfig(AppConfig):
    """Supply: notices about bought parts and materials, right of reply, corrections."""

    name = "helpdesk.supply"
    verbose_name = "Supply"
