"""Calls of the API as a program makes them."""

import json
from dataclasses import dataclass
from typing import Any

from django.test import Client

BASE = "/api/v1"
TEXT = "The corners of my box curl up from the plate after an hour."


@dataclass
class Program:
    """A program with a token."""

    secret: str
    client: Client

    def get(self, path: str, **query: Any) -> Any:
        """Ask for something."""
        return self.client.get(BASE + path, query, headers=self._headers())

    def post(self, path: str, data: Any, *, key: str = "", media: str = "application/json") -> Any:
        """Send JSON, with an idempotency key where one is given."""
        body = data if isinstance(data, bytes | str) else json.dumps(data)
        headers = self._headers() | ({"Idempotency-Key": key} if key else {})
        return self.client.post(BASE + path, body, content_type=media, headers=headers)

    def upload(self, file: Any, **fields: str) -> Any:
        """Send a file ahead."""
        return self.client.post(
            f"{BASE}/uploads", {"file": file, **fields}, headers=self._headers()
        )

    def report(self, key: str = "r-1", **more: Any) -> Any:
        """Send a report."""
        return self.post("/reports", {"text": TEXT, **more}, key=key)

    def _headers(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.secret}"} if self.secret else {}
