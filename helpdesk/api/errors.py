"""Problems the API answers with, after RFC 9457: each kind has an address with its explanation."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from helpdesk.core.errors import DeskError


@dataclass(frozen=True)
class ProblemKind:
    """One kind of problem; `name` is the end of its address."""

    name: str
    status: HTTPStatus
    title: str
    explanation: str


MALFORMED = ProblemKind(
    "malformed",
    HTTPStatus.BAD_REQUEST,
    "The request cannot be read",
    "The body is not JSON, is not UTF-8, names something twice or is nested too deeply; or a "
    "header or a part of the address has a form the description does not allow. Repair the "
    "request; sending it again as it is will not help.",
)
KEY_MISSING = ProblemKind(
    "key-missing",
    HTTPStatus.BAD_REQUEST,
    "An idempotency key is needed",
    "Whatever makes something new carries the header Idempotency-Key with a value of your own, "
    "such as a UUID, that is used for this one thing and again when you repeat it because no "
    "answer came.",
)
UNAUTHORIZED = ProblemKind(
    "unauthorized",
    HTTPStatus.UNAUTHORIZED,
    "A valid token is needed",
    "Send the header “Authorization: Bearer” with a token. This one is missing, unknown, revoked "
    "or past its day; the answer is the same for all of them. Ask who runs the desk for a new one.",
)
NOT_GRANTED = ProblemKind(
    "not-granted",
    HTTPStatus.FORBIDDEN,
    "The token may not do this",
    "Each token is granted single scopes. Ask who runs the desk for a token with the scope the "
    "answer names.",
)
NOT_FOUND = ProblemKind(
    "not-found",
    HTTPStatus.NOT_FOUND,
    "There is no such thing",
    "Nothing stands at this address, or the case did not come by this token: the answer is the "
    "same for both.",
)
NOT_ALLOWED = ProblemKind(
    "method-not-allowed",
    HTTPStatus.METHOD_NOT_ALLOWED,
    "This cannot be done here",
    "The header Allow of the answer lists the methods this address knows.",
)
STILL_RUNNING = ProblemKind(
    "still-running",
    HTTPStatus.CONFLICT,
    "The same request is still being worked on",
    "A request with this idempotency key has begun and has not ended. Wait a few seconds and "
    "repeat it with the same key and the same body.",
)
WRONG_STEP = ProblemKind(
    "wrong-step",
    HTTPStatus.CONFLICT,
    "The case is not at this step",
    "An outcome can be told once the desk has answered. Read the case and try again then.",
)
ERASED = ProblemKind(
    "erased",
    HTTPStatus.GONE,
    "The case was erased",
    "The person had everything about themselves removed. Please remove what your program keeps of "
    "them as well.",
)
TOO_LARGE = ProblemKind(
    "too-large",
    HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
    "The request is too large",
    "A JSON body may have 256 kB, an uploaded file 64 MB.",
)
WRONG_MEDIA_TYPE = ProblemKind(
    "wrong-media-type",
    HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
    "The desk does not take this kind of content",
    "The header Content-Type is not one the description names for this address, or an uploaded "
    "file is neither a photo (JPEG, PNG, WebP, HEIC) nor a print file or model.",
)
INVALID = ProblemKind(
    "invalid",
    HTTPStatus.UNPROCESSABLE_ENTITY,
    "Something in the request is not right",
    "The member “errors” lists each fault with a JSON Pointer to it. Nothing was kept, so the same "
    "idempotency key may be used for the repaired request.",
)
KEY_REUSED = ProblemKind(
    "key-reused",
    HTTPStatus.UNPROCESSABLE_ENTITY,
    "The idempotency key stands for another request",
    "This key was used for a request with another body or another address. Use a new key for "
    "something new.",
)
NO_NOTE = ProblemKind(
    "no-note",
    HTTPStatus.UNPROCESSABLE_ENTITY,
    "This is not a post the desk can read",
    "The document breaks ActivityStreams 2.0, or it is no Note, Article, Page or Image; the answer "
    "says which.",
)
TOO_OFTEN = ProblemKind(
    "too-often",
    HTTPStatus.TOO_MANY_REQUESTS,
    "Too many requests",
    "The header Retry-After says how many seconds to wait. The allowance fills again evenly.",
)
UNAVAILABLE = ProblemKind(
    "unavailable",
    HTTPStatus.SERVICE_UNAVAILABLE,
    "The desk cannot keep anything just now",
    "The database is busy or away. Nothing was kept; repeat the request with the same idempotency "
    "key after the seconds that Retry-After names.",
)
KINDS: Sequence[ProblemKind] = (
    MALFORMED, KEY_MISSING, UNAUTHORIZED, NOT_GRANTED, NOT_FOUND, NOT_ALLOWED, STILL_RUNNING,
    WRONG_STEP, ERASED, TOO_LARGE, WRONG_MEDIA_TYPE, INVALID, KEY_REUSED, NO_NOTE, TOO_OFTEN,
    UNAVAILABLE,
)  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong: where (a JSON Pointer, "#" for the whole) and what."""

    pointer: str
    detail: str


class ProblemError(DeskError):
    """A request that is answered with a problem."""

    def __init__(
        self,
        kind: ProblemKind,
        detail: str,
        *,
        faults: Sequence[Fault] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        """Keep what the answer says."""
        super().__init__(detail)
        self.kind, self.detail, self.faults = kind, detail, faults
        self.headers: Mapping[str, Any] = headers or {}
