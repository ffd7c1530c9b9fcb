"""Tokens of private addresses."""

import hashlib
import secrets

TOKEN_BYTES = 24  # 192 bits from the system's generator


def make_token() -> str:
    """Return a new unguessable token."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def hash_token(token: str) -> str:
    """Return what is stored of a token: 192 random bits need no salt."""
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()
