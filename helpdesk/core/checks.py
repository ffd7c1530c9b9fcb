"""Start-up checks with stable ids, shown by `manage.py check`."""

from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Warning, register


@register()
def check_embedded_database(**kwargs: Any) -> list[CheckMessage]:
    """Refuse an embedded database without the settings that keep its commits safe."""
    database: dict[str, Any] = settings.DATABASES["default"]
    if not database["ENGINE"].endswith("sqlite3"):
        return []
    options = database.get("OPTIONS", {})
    problems: list[CheckMessage] = []
    if options.get("transaction_mode") != "IMMEDIATE":
        problems.append(
            Error("SQLite must take its write lock at BEGIN (IMMEDIATE).", id="core.E001")
        )
    if "journal_mode=WAL" not in options.get("init_command", ""):
        problems.append(Error("SQLite must keep a write-ahead log.", id="core.E002"))
    return problems


@register(deploy=True)
def check_desk_address(**kwargs: Any) -> list[CheckMessage]:
    """Warn when letters would carry links without TLS."""
    if settings.DESK_ADDRESS.startswith("https://"):
        return []
    return [Warning("PRINTWARD_ADDRESS should begin with https://", id="core.W001")]


@register(deploy=True)
def check_trusted_proxy(**kwargs: Any) -> list[CheckMessage]:
    """Warn when a desk behind a proxy would count all visitors as one."""
    if not settings.SECURE_PROXY_SSL_HEADER or settings.TRUSTED_PROXIES:
        return []
    return [
        Warning(
            "PRINTWARD_TRUSTED_PROXY should name the proxy's address: without it the limits "
            "count everybody as one visitor.",
            id="core.W002",
        )
    ]
