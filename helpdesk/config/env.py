"""The only reader of the environment; every name is listed in docs/operations.md."""

import os
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

from django.core.exceptions import ImproperlyConfigured

TRUE_WORDS = frozenset({"1", "true", "yes", "on"})
FALSE_WORDS = frozenset({"0", "false", "no", "off", ""})


def text(name: str, default: str = "") -> str:
    """Return the value of an environment variable, stripped, or the default."""
    return os.environ.get(name, default).strip()


def require(name: str) -> str:
    """Return the value of an environment variable or stop the start-up."""
    value = text(name)
    if not value:
        raise ImproperlyConfigured(f"{name} must be set in the environment.")
    return value


def flag(name: str, *, default: bool) -> bool:
    """Return a yes/no environment variable."""
    value = text(name, "yes" if default else "no").lower()
    if value in TRUE_WORDS:
        return True
    if value in FALSE_WORDS:
        return False
    raise ImproperlyConfigured(f"{name} is {value!r}; use yes or no.")


def number(name: str, default: int) -> int:
    """Return a whole-number environment variable."""
    value = text(name, str(default))
    try:
        return int(value)
    except ValueError as error:
        raise ImproperlyConfigured(f"{name} is {value!r}; use a whole number.") from error


def words(name: str, default: str = "") -> list[str]:
    """Return a comma-separated environment variable as a list without empty entries."""
    return [word.strip() for word in text(name, default).split(",") if word.strip()]


def database(name: str) -> dict[str, Any] | None:
    """Return Django's PostgreSQL settings from a ``postgresql://`` address, or None if unset."""
    address = text(name)
    if not address:
        return None
    parts = urlsplit(address)
    if parts.scheme not in {"postgres", "postgresql"}:
        raise ImproperlyConfigured(f"{name} must begin with postgresql://")
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": unquote(parts.path.lstrip("/")),
        "USER": unquote(parts.username or ""),
        "PASSWORD": unquote(parts.password or ""),
        "HOST": parts.hostname or "",
        "PORT": str(parts.port or ""),
        "CONN_MAX_AGE": 60,
    }


def secret_key(folder: Path) -> str:
    """Return the signing key from the environment, else one kept in the data folder.

    The embedded shape has no operator to invent a key, so the first start makes one that only
    this user can read; nothing is signed with a value that stands in the code.
    """
    given = text("PRINTWARD_SECRET_KEY")
    if given:
        return given
    path = folder / "secret.key"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        made = os.urandom(48).hex()
        try:
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except FileExistsError:  # site and worker start together: the first one wins
            return path.read_text(encoding="ascii").strip()
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(made)
    return path.read_text(encoding="ascii").strip()
