"""Accounts in Django's admin."""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin

from helpdesk.accounts.models import User


@admin.register(User)
class DeskUserAdmin(UserAdmin):  # type: ignore[type-arg]
    """Django's own account pages with the desk's two fields added."""

    fieldsets = (*(UserAdmin.fieldsets or ()), ("Desk", {"fields": ("spoken_name", "has_keys")}))
