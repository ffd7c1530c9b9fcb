"""The description of the API (OpenAPI 3.1), written from the operations themselves."""

from http import HTTPStatus
from typing import Any

from django.conf import settings

from helpdesk.api.door import FORM, Operation, problems_of
from helpdesk.api.keys import KEY_CHARS, KEY_FORM
from helpdesk.api.models import Scope
from helpdesk.api.operations import OPERATIONS
from helpdesk.api.schemas import COMPONENTS, REF

BASE = "/api/v1"
KEY_HELP = (
    "A value of your own, such as a UUID in quotation marks; used again only to repeat this very "
    "request. Kept for seven days."
)


def describe() -> dict[str, Any]:
    """Return the whole description as plain data."""
    paths: dict[str, dict[str, Any]] = {}
    for operation in OPERATIONS:
        paths.setdefault(operation.path, {})[operation.method.lower()] = _operation(operation)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": f"{settings.DESK_NAME}: reports and answers",
            "version": "1",
            "description": "Reports in, answers out, for programs with a token of the desk.",
        },
        "servers": [{"url": settings.DESK_ADDRESS.rstrip("/") + BASE}],
        "paths": paths,
        "components": {
            "schemas": COMPONENTS,
            "securitySchemes": {
                "token": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "Scopes: "
                    + "; ".join(f"{name} ({label})" for name, label in Scope.choices),
                }
            },
        },
    }


def _operation(operation: Operation) -> dict[str, Any]:
    said: dict[str, Any] = {
        "operationId": operation.name,
        "summary": operation.summary,
        "description": f"Needs the scope {operation.scope}.",
        "security": [{"token": []}],
        "responses": _responses(operation),
    }
    if parameters := _parameters(operation):
        said["parameters"] = parameters
    if operation.body:
        content = {media: _media(media, operation.body) for media in operation.media}
        said["requestBody"] = {"required": True, "content": content}
    return said


def _media(media: str, body: str) -> dict[str, Any]:
    said: dict[str, Any] = {"schema": {"$ref": f"#/components/schemas/{body}"}}
    if media == FORM:
        said["encoding"] = {"file": {"contentType": "application/octet-stream"}}
    return said


def _parameters(operation: Operation) -> list[dict[str, Any]]:
    found = [
        {"name": name, "in": "query", "required": False, "schema": schema}
        for name, schema in operation.query.items()
    ]
    schema: dict[str, Any]
    if "{ref}" in operation.path:
        schema = {"type": "string", "pattern": REF}
        found.append({"name": "ref", "in": "path", "required": True, "schema": schema})
    if operation.needs_key:
        schema = {"type": "string", "pattern": KEY_FORM, "maxLength": KEY_CHARS}
        found.append(
            {
                "name": "Idempotency-Key",
                "in": "header",
                "required": True,
                "description": KEY_HELP,
                "schema": schema,
            }
        )
    return found


def _responses(operation: Operation) -> dict[str, Any]:
    said: dict[str, Any] = {
        str(status): {
            "description": HTTPStatus(status).phrase,
            "content": {"application/json": {"schema": {"$ref": f"#/components/schemas/{name}"}}},
        }
        for status, name in operation.answers.items()
    }
    for status in problems_of(operation):
        said[str(int(status))] = {
            "description": status.phrase,
            "content": {
                "application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}
            },
        }
    return said
