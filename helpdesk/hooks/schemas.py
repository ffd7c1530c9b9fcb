"""What a message to the desk looks like: one JSON Schema (2020-12) for each type.

Fields the desk does not know are allowed and ignored, so that a sender may grow first.
"""

from typing import Any

REPORT_CREATED = "report.created"
REPLY_CREATED = "reply.created"
MESSAGE_EDITED = "message.edited"
MESSAGE_DELETED = "message.deleted"

TEXT_CHARS = 20_000
MOST_PICTURES = 10


def _string(longest: int, *, shortest: int = 0, **more: Any) -> dict[str, Any]:
    return {"type": "string", "minLength": shortest, "maxLength": longest, **more}


_TEXT = _string(TEXT_CHARS, shortest=1, pattern=r"\S")
_CONVERSATION = _string(200, shortest=1, pattern=r"\S")
_PERSON: dict[str, Any] = {
    "type": "object",
    "properties": {"name": _string(80), "handle": _string(80), "link": _string(500)},
}
_PICTURE: dict[str, Any] = {
    "type": "object",
    "properties": {
        "url": _string(2000, shortest=1),
        "base64": {"type": "string", "minLength": 1},
        "label": _string(200),
        "alt": _string(500),
    },
    "oneOf": [{"required": ["url"]}, {"required": ["base64"]}],
}
_PICTURES = {"type": "array", "items": _PICTURE, "maxItems": MOST_PICTURES}
_CONSENT: dict[str, Any] = {
    "type": "object",
    "properties": {
        "may_publish_answer": {"type": "boolean"},
        "may_show_photos": {"type": "boolean"},
        "credit": {"enum": ["name", "handle", "anonymous"]},
        "credit_as": _string(80),
        "is_under_16": {"type": "boolean"},
        "guardian_agreed": {"type": "boolean"},
        "wording": _string(2000, shortest=1, pattern=r"\S"),
        "said_by": _string(80, shortest=1, pattern=r"\S"),
        "said_at": _string(40, format="date-time"),
    },
    "required": ["wording", "said_by", "said_at"],
}
_FACTS: dict[str, Any] = {
    "type": "object",
    "properties": {
        "process": {"enum": ["MEX", "VPP"]},
        "machine": _string(80),
        "material": _string(40),
        "material_maker": _string(80),
    },
}
_PLACE = {
    "anyOf": [{"required": ["conversation"]}, {"required": ["case"]}],
}
_CASE = {"type": "integer", "minimum": 1, "maximum": 2**53}


def _data(properties: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"type": "object", "properties": properties, **more}


DATA: dict[str, dict[str, Any]] = {
    REPORT_CREATED: _data(
        {
            "conversation": _CONVERSATION,
            "text": _TEXT,
            "title": _string(120),
            "author": _PERSON,
            "link": _string(500),
            "pictures": _PICTURES,
            "forwarded_for": _PERSON,
            "facts": _FACTS,
            "consent": _CONSENT,
        },
        required=["conversation", "text"],
    ),
    REPLY_CREATED: _data(
        {
            "conversation": _CONVERSATION,
            "case": _CASE,
            "text": _string(TEXT_CHARS),
            "author": _PERSON,
            "pictures": _PICTURES,
        },
        required=["text"],
        **_PLACE,
    ),
    MESSAGE_EDITED: _data(
        {"conversation": _CONVERSATION, "case": _CASE, "text": _TEXT, "author": _PERSON},
        required=["text"],
        **_PLACE,
    ),
    MESSAGE_DELETED: _data(
        {"conversation": _CONVERSATION, "case": _CASE, "author": _PERSON}, **_PLACE
    ),
}


def schema_of(kind: str) -> dict[str, Any]:
    """Return the schema of a whole message of a type."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "type": "object",
        "properties": {
            "type": {"const": kind},
            "timestamp": _string(40, format="date-time"),
            "data": DATA[kind],
        },
        "required": ["type", "data"],
    }
