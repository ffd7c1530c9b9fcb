"""What requests and answers look like, as JSON Schema (2020-12).

The same schemas check what comes in and stand in the OpenAPI description, so neither can say
anything the other does not.
"""

from typing import Any

from helpdesk.cases.models import CaseState, CreditKind, OutcomeResult
from helpdesk.incoming.measures import FACT_MEASURES

Schema = dict[str, Any]

TEXT_CHARS = 20_000
MOST_UPLOADS = 12
# At least one character that is neither blank nor control.
SAYS_SOMETHING = r"[^\s\x00-\x1f\x7f-\x9f\ufeff]"
_LABEL = r"[A-Za-z0-9]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?"
EMAIL = rf"^[A-Za-z0-9_+-]+(\.[A-Za-z0-9_+-]+)*@({_LABEL}\.)+[A-Za-z]{{2,24}}$"
WEB_ADDRESS = rf"^https?://({_LABEL}\.)+[A-Za-z]{{2,24}}(:[0-9]{{2,4}})?(/[!-~]*)?$"
REF = r"^[A-Za-z0-9_-]{22}$"


def _ref(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def _thing(properties: Schema, *, needed: tuple[str, ...] = (), about: str = "") -> Schema:
    """Return an object that knows no other fields, so that a slip of the pen is noticed."""
    schema: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    if needed:
        schema["required"] = list(needed)
    if about:
        schema["description"] = about
    return schema


def _words(longest: int, about: str = "", **more: Any) -> Schema:
    return {
        "type": "string",
        "maxLength": longest,
        **({"description": about} if about else {}),
        **more,
    }


def _answer(properties: Schema, about: str = "") -> Schema:
    """Return an answer's object: every field is always there."""
    return _thing(properties, needed=tuple(properties), about=about)


def _list(items: Schema, most: int | None = None) -> Schema:
    return {"type": "array", "items": items, **({"maxItems": most} if most else {})}


MOMENT: Schema = {"type": "string", "format": "date-time", "maxLength": 40}
MAYBE_TEXT: Schema = {"type": ["string", "null"]}
UPLOADS = _list({"type": "string", "pattern": REF}, MOST_UPLOADS) | {"uniqueItems": True}

FACTS = _thing(
    {
        "process": {"enum": ["MEX", "VPP"], "description": "Extrusion or resin (ISO/ASTM 52900)."},
        "machine": _words(80),
        "material": _words(40),
        "material_maker": _words(80),
        "batch": _words(60),
        "tried": _words(5000, "What was tried already."),
        **{
            name: {"type": "number", "minimum": measure.low, "maximum": measure.high}
            for name, measure in FACT_MEASURES.items()
        },
    },
    about="What is known of the print; the unit ends each name.",
)
CONSENT = _thing(
    {
        "wording": _words(2000, "The words the person said yes to.", pattern=SAYS_SOMETHING),
        "given_by": _words(80, "Who said yes.", pattern=SAYS_SOMETHING),
        "given_at": MOMENT,
        "may_publish_answer": {"type": "boolean", "default": False},
        "may_show_photos": {"type": "boolean", "default": False},
        "credit": {"enum": CreditKind.values, "default": CreditKind.ANONYMOUS.value},
        "credit_as": _words(80, "The name as it should be said."),
        "is_under_16": {"type": "boolean", "default": False},
        "guardian_agreed": {"type": "boolean", "default": False},
    },
    needed=("wording", "given_by", "given_at"),
    about="What the person agreed to. Without it nothing is agreed.",
)
REPORT = _thing(
    {
        "text": _words(TEXT_CHARS, "The story in the person’s own words.", pattern=SAYS_SOMETHING),
        "person": _thing(
            {
                "name": _words(80),
                "handle": _words(80, "As your channel writes it."),
                "email": _words(254, pattern=EMAIL),
            },
            about="Who sent it to you.",
        ),
        "owner": _thing(
            {"name": _words(80), "link": _words(500, pattern=WEB_ADDRESS)},
            about="Whose print it is, when the person passes on somebody else’s.",
        ),
        "link": _words(500, "Where it stood before it came here.", pattern=WEB_ADDRESS),
        "facts": _ref("Facts"),
        "uploads": UPLOADS,
        "keeps_originals": {
            "type": "boolean",
            "default": False,
            "description": "Whether photos may also be kept as they were sent.",
        },
        "consent": _ref("Consent"),
    },
    needed=("text",),
)
REPLY = _thing(
    {
        "text": _words(TEXT_CHARS, pattern=SAYS_SOMETHING),
        "author": _words(80, "Who says it, if not the person of the report."),
        "uploads": UPLOADS,
    },
    needed=("text",),
)
OUTCOME = _thing(
    {"result": {"enum": OutcomeResult.values}, "text": _words(5000)}, needed=("result",)
)
LINK: Schema = MAYBE_TEXT | {
    "description": "The person’s private page, for them only; null without the scope link:read."
}
KEPT = _answer(
    {
        "photos": {"type": "integer", "minimum": 0},
        "files": {"type": "integer", "minimum": 0},
        "refused": _list({"type": "string"}),
    },
    about="What became of the uploads; “refused” has a sentence for each that was not kept.",
)
TAKEN = _answer(
    {
        "ref": {
            "type": ["string", "null"],
            "pattern": REF,
            "description": "Null when the post belongs to a case that came another way.",
        },
        "state": {"enum": CaseState.values},
        "kept": _ref("Kept"),
        "link": LINK,
    },
    about="A report or reply that was taken.",
)
FEATURED = _answer(
    {
        "episode": {"type": "integer"},
        "title": {"type": "string"},
        "starts_at_s": {"type": "integer"},
        "on": {"type": "string", "format": "date"},
        "link": {"type": "string"},
    }
)
CASE = _answer(
    {
        "ref": {"type": "string", "pattern": REF},
        "state": {"enum": CaseState.values},
        "received_at": MOMENT,
        "asked": MAYBE_TEXT | {"description": "What the desk asks just now, in its own words."},
        "questions": _list(
            _answer({"question": {"type": "string"}, "help": {"type": "string"}}),
        ),
        "answers": _list(_answer({"sent_at": MOMENT, "text": {"type": "string"}})),
        "outcome": {"enum": [*OutcomeResult.values, None]},
        "featured": _list(_ref("Featured")),
        "may_publish_answer": {"type": "boolean"},
        "may_show_photos": {"type": "boolean"},
        "link": LINK,
    }
)
EVENTS = _answer(
    {
        "events": _list(
            _answer(
                {
                    "id": {"type": "string"},
                    "type": {"type": "string"},
                    "at": MOMENT,
                    "ref": {"type": "string", "pattern": REF},
                }
            )
        ),
        "next": {
            "type": "string",
            "description": "Give it as “after” the next time; this also says that you have read "
            "everything up to here.",
        },
    }
)
LIBRARY = _answer(
    {
        "answers": _list(
            _answer(
                {
                    "title": {"type": "string"},
                    "text": {"type": "string"},
                    "machine": {"type": "string"},
                    "material": {"type": "string"},
                    "outcome": {"type": "string"},
                    "published_at": MOMENT,
                    "link": {"type": "string"},
                    "featured": _list(_ref("Featured")),
                }
            )
        ),
        "next": MAYBE_TEXT | {"description": "Give it as “after” for more; null at the end."},
    }
)
UPLOADED = _answer(
    {
        "id": {"type": "string", "pattern": REF},
        "label": {"type": "string"},
        "size_bytes": {"type": "integer"},
        "expires_at": MOMENT,
    }
)
UPLOAD = {
    "type": "object",
    "properties": {
        "file": {
            "type": "string",
            "contentMediaType": "application/octet-stream",
            "minLength": 1,
        },
        "alt_text": _words(300, "What the picture shows, for who cannot see it."),
    },
    "required": ["file"],
}
NOTE: Schema = {
    "type": "object",
    "description": "A Note, Article, Page or Image, or a Create or Announce that holds one "
    "(ActivityStreams 2.0).",
    "properties": {"type": {"type": ["string", "array"]}},
    "required": ["type"],
}
PROBLEM: Schema = {
    "type": "object",
    "properties": {
        "type": {"type": "string", "format": "uri"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "errors": _list(
            _answer({"pointer": {"type": "string"}, "detail": {"type": "string"}}),
        ),
    },
    "required": ["type", "title", "status", "detail"],
}
COMPONENTS: dict[str, Schema] = {
    "Report": REPORT, "Reply": REPLY, "Outcome": OUTCOME, "Facts": FACTS, "Consent": CONSENT,
    "Taken": TAKEN, "Kept": KEPT, "Case": CASE, "Featured": FEATURED, "Events": EVENTS,
    "Library": LIBRARY, "Upload": UPLOAD, "Uploaded": UPLOADED, "Note": NOTE, "Problem": PROBLEM,
}  # fmt: skip
