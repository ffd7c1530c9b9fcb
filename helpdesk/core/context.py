"""What every template may name."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest


def desk(request: HttpRequest) -> dict[str, Any]:
    """Return the names the desk goes by."""
    return {"desk_name": settings.DESK_NAME, "show_name": settings.SHOW_NAME}
