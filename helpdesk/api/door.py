"""The door of the API: who may enter, what is read, and how every answer looks.

An operation is a plain function with its description beside it; nothing about it stands anywhere
else. The description makes the OpenAPI document, and the same words decide here what is let in.
"""

import logging
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import RequestDataTooBig, ValidationError
from django.core.files.uploadhandler import MemoryFileUploadHandler
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.multipartparser import MultiPartParserError
from django.urls import reverse
from django.views.decorators.csrf import csrf_exempt

from helpdesk.api.checking import check, fits
from helpdesk.api.errors import (
    INVALID,
    KINDS,
    MALFORMED,
    NOT_ALLOWED,
    NOT_FOUND,
    NOT_GRANTED,
    TOO_LARGE,
    TOO_OFTEN,
    UNAUTHORIZED,
    UNAVAILABLE,
    WRONG_MEDIA_TYPE,
    Fault,
    ProblemError,
)
from helpdesk.api.keys import Result, do_once, hash_of, read_key
from helpdesk.api.models import ChannelToken
from helpdesk.api.schemas import Schema
from helpdesk.api.selectors import find_token
from helpdesk.api.services import note_use
from helpdesk.api.uploads import UploadHandler
from helpdesk.core import limits
from helpdesk.core.http import retry_after
from helpdesk.incoming.strict_json import UnreadableJsonError, read_json

JSON = "application/json"
FORM = "multipart/form-data"
POSTS = ("application/activity+json", "application/ld+json")
MOST_BYTES = 256 * 1024  # of a JSON body
DATABASE_WAIT_S = 5
SCHEME = "bearer"
logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class Call:
    """One request that was let in: by which token, with what."""

    request: HttpRequest
    token: ChannelToken
    data: Any = None
    path: Mapping[str, str] = field(default_factory=dict)
    query: Mapping[str, str] = field(default_factory=dict)
    key: str = ""  # names the effect for good, where the operation needs an idempotency key


@dataclass(frozen=True, kw_only=True)
class Operation:
    """One thing a program can do, with everything the description says of it."""

    name: str
    method: str
    path: str
    scope: str
    summary: str
    run: Callable[[Call], Result]
    answers: Mapping[int, str]  # names of schemas by status
    body: str = ""  # the name of its schema
    media: Sequence[str] = (JSON,)
    query: Mapping[str, Schema] = field(default_factory=dict)
    needs_key: bool = False
    more_problems: Sequence[HTTPStatus] = ()
    finish: Callable[[ChannelToken, Result], dict[str, Any]] | None = None


def endpoint(operations: Sequence[Operation]) -> Callable[..., HttpResponse]:
    """Return the view of one address, for all its methods."""
    by_method = {operation.method: operation for operation in operations}

    @csrf_exempt  # no cookie counts here, so no other site can lend one
    @login_not_required
    def view(request: HttpRequest, **path: str) -> HttpResponse:
        try:
            return _answer(by_method, request, path)
        except ProblemError as error:
            return problem_response(error)
        except OperationalError:
            logger.exception("An API call was not kept")
            words = "The desk could not keep the request."
            wait = {"Retry-After": str(DATABASE_WAIT_S)}
            return problem_response(ProblemError(UNAVAILABLE, words, headers=wait))

    return view


@csrf_exempt
@login_not_required
def nothing_here(request: HttpRequest, rest: str = "") -> HttpResponse:
    """Answer an address the API does not know."""
    return problem_response(ProblemError(NOT_FOUND, "There is nothing at this address."))


def problem_response(error: ProblemError) -> HttpResponse:
    """Return a problem document (RFC 9457)."""
    kind = error.kind
    content: dict[str, Any] = {
        "type": settings.DESK_ADDRESS.rstrip("/") + reverse("api:problem", args=[kind.name]),
        "title": kind.title,
        "status": int(kind.status),
        "detail": error.detail,
    }
    if error.faults:
        content["errors"] = [
            {"pointer": fault.pointer, "detail": fault.detail} for fault in error.faults
        ]
    response = JsonResponse(content, status=kind.status, content_type="application/problem+json")
    for name, value in error.headers.items():
        response[name] = value
    return response


def _answer(
    by_method: Mapping[str, Operation], request: HttpRequest, path: Mapping[str, str]
) -> HttpResponse:
    """Let a request in, do what it asks for, and answer."""
    operation = by_method.get("GET" if request.method == "HEAD" else request.method or "")
    if operation is None:
        allowed = {"Allow": ", ".join(sorted(by_method))}
        raise ProblemError(NOT_ALLOWED, f"There is no {request.method} here.", headers=allowed)
    token = _let_in(request, operation)
    query = _read_query(request, operation)
    data, content_hash = _read_body(request, operation)
    call = Call(request=request, token=token, data=data, path=path, query=query)
    try:
        result = _run(operation, call, content_hash)
    except ValidationError as error:  # a rule of a model that the schema cannot say
        faults = [Fault("#", words) for words in error.messages]
        raise ProblemError(INVALID, "A value is not taken.", faults=faults) from error
    note_use(token)
    body = operation.finish(token, result) if operation.finish else result.body
    # Sorted, so that a repeated request has the very same answer from any database.
    return JsonResponse(body, status=result.status, json_dumps_params={"sort_keys": True})


def _run(operation: Operation, call: Call, content_hash: str) -> Result:
    """Do an operation, once for its idempotency key where it needs one."""
    if not operation.needs_key:
        return operation.run(call)
    key_hash = hash_of(read_key(call.request.headers.get("Idempotency-Key", "")))
    fingerprint = hash_of(operation.name, *call.path.values(), content_hash)
    effect = f"api:{call.token.pk}:{key_hash[:40]}:{fingerprint[:40]}"
    keyed = Call(call.request, call.token, call.data, call.path, call.query, key=effect)
    return do_once(call.token, key_hash, fingerprint, lambda: operation.run(keyed))


def _let_in(request: HttpRequest, operation: Operation) -> ChannelToken:
    """Return the token of a request; raises ProblemError when it does not open this."""
    visitor = limits.address_of(request)
    scheme, _, secret = request.headers.get("Authorization", "").partition(" ")
    token = find_token(secret.strip()) if scheme.lower() == SCHEME and secret.strip() else None
    if token is None:
        # Who sends none guesses nothing; a refusal without a guess leaves no trace.
        if secret and not limits.spend(limits.API_REFUSALS, visitor):
            raise _too_often(limits.API_REFUSALS, visitor)
        wanted = {"WWW-Authenticate": 'Bearer realm="desk"'}
        raise ProblemError(UNAUTHORIZED, "Send a valid token.", headers=wanted)
    if not limits.spend(limits.API_CALLS, str(token.pk)):
        raise _too_often(limits.API_CALLS, str(token.pk))
    if not token.may(operation.scope):
        wanted = {
            "WWW-Authenticate": 'Bearer realm="desk", error="insufficient_scope", '
            f'scope="{operation.scope}"'
        }
        raise ProblemError(
            NOT_GRANTED, f"The token has not the scope {operation.scope}.", headers=wanted
        )
    return token


def _too_often(limit: limits.Limit, who: str) -> ProblemError:
    response = retry_after(HttpResponse(), limits.seconds_until_room(limit, who))
    wait = {"Retry-After": response["Retry-After"]}
    return ProblemError(TOO_OFTEN, "Please wait before the next request.", headers=wait)


def _read_query(request: HttpRequest, operation: Operation) -> dict[str, str]:
    """Return the parameters an operation knows, each checked by its schema."""
    found: dict[str, str] = {}
    for name, schema in operation.query.items():
        values = request.GET.getlist(name)
        if not values:
            continue
        if len(values) > 1 or not fits(values[0], schema):
            raise ProblemError(MALFORMED, f"The parameter {name} has not the form it needs.")
        found[name] = values[0]
    unknown = sorted(set(request.GET) - set(operation.query))
    if unknown:
        raise ProblemError(MALFORMED, "The address has a parameter that is not known here.")
    return found


def _read_body(request: HttpRequest, operation: Operation) -> tuple[Any, str]:
    """Return what the body says, checked, and the hash of its bytes."""
    if not operation.body:
        return None, ""
    if request.content_type not in operation.media:
        known = ", ".join(operation.media)
        raise ProblemError(
            WRONG_MEDIA_TYPE, f"The Content-Type is one of: {known}.", headers={"Accept": known}
        )
    if request.content_type == FORM:
        return _read_form(request), ""
    length = request.headers.get("Content-Length") or "0"
    if length.isdecimal() and int(length) > MOST_BYTES:
        raise ProblemError(TOO_LARGE, f"A JSON body has {MOST_BYTES} bytes at most.")
    raw = request.read(MOST_BYTES + 1)
    if len(raw) > MOST_BYTES:
        raise ProblemError(TOO_LARGE, f"A JSON body has {MOST_BYTES} bytes at most.")
    try:
        value = read_json(raw)
    except UnreadableJsonError as error:
        raise ProblemError(MALFORMED, str(error)) from error
    return check(value, operation.body), hash_of(raw)


def _read_form(request: HttpRequest) -> dict[str, Any]:
    """Return the one file of a form with the words beside it."""
    request.upload_handlers = [MemoryFileUploadHandler(request), UploadHandler(request)]
    try:
        fields, files = request.POST, request.FILES
    except RequestDataTooBig as error:
        raise ProblemError(TOO_LARGE, "The form is too large.") from error
    except (MultiPartParserError, ValueError) as error:
        raise ProblemError(MALFORMED, "The form cannot be read.") from error
    if len(files.getlist("file")) != 1:
        faults = [Fault("#/file", "One file is needed here.")]
        raise ProblemError(INVALID, "Send one file under the name “file”.", faults=faults)
    words = check({"file": "a file", "alt_text": fields.get("alt_text", "")}, "Upload")
    return {**words, "file": files["file"]}


def problems_of(operation: Operation) -> list[HTTPStatus]:
    """Return the statuses of the problems an operation may answer with."""
    always = {UNAUTHORIZED, NOT_GRANTED, TOO_OFTEN, UNAVAILABLE, MALFORMED, NOT_ALLOWED}
    found = {kind.status for kind in always} | set(operation.more_problems)
    if operation.body:
        found |= {kind.status for kind in (TOO_LARGE, WRONG_MEDIA_TYPE, INVALID)}
    if operation.needs_key:
        found |= {HTTPStatus.CONFLICT, HTTPStatus.GONE}
    if "{ref}" in operation.path:
        found |= {HTTPStatus.NOT_FOUND, HTTPStatus.GONE}
    return [status for status in dict.fromkeys(kind.status for kind in KINDS) if status in found]
