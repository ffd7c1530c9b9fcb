"""Accounts: the people of the desk and what each may do."""

from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


def _make_roles(**kwargs: Any) -> None:
    """Bring the roles up to date once all permissions exist."""
    from helpdesk.accounts.roles import make_roles  # noqa: PLC0415 - models are loaded by now

    make_roles()


class AccountsConfig(AppConfig):
    """People and roles."""

    name = "helpdesk.accounts"
    verbose_name = "People and roles"

    def ready(self) -> None:
        """Refresh the roles after every migrate."""
        post_migrate.connect(_make_roles, dispatch_uid="accounts.make_roles")
