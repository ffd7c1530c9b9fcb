"""The address other programs post to. Permission: a signature with one of the source's secrets.

Every answer that is not a yes is a problem document (RFC 9457). Nothing is redirected, and nothing
but the signature decides: there is no session and no cookie here.
"""

import datetime
import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.csrf import csrf_exempt

from helpdesk.core import clock
from helpdesk.core.http import retry_after
from helpdesk.hooks.errors import (
    BadBodyError,
    BadMessageError,
    BusyError,
    IdReusedError,
    TooOftenError,
)
from helpdesk.hooks.models import HookSource
from helpdesk.hooks.payloads import MOST_BYTES
from helpdesk.hooks.receiving import receive
from helpdesk.hooks.signing import SignatureError, read_secret, verify

DATABASE_WAIT_S = 5
LONGEST_NUMBER = 12  # digits
HEADERS = ("webhook-id", "webhook-timestamp", "webhook-signature")
logger = logging.getLogger(__name__)


@csrf_exempt  # no cookie counts here, so no other site can lend one
@login_not_required
def receive_hook(request: HttpRequest, public_id: str) -> HttpResponse:
    """Keep one signed message and say so once it is kept for certain."""
    if request.method != "POST":
        response = _problem(HTTPStatus.METHOD_NOT_ALLOWED, "Messages are posted here.")
        response["Allow"] = "POST"
        return response
    if settings.SECURE_SSL_REDIRECT and not request.is_secure():
        return _problem(HTTPStatus.FORBIDDEN, "Messages are taken by https only.")
    try:
        return _receive(request, public_id)
    except OperationalError:  # the database is busy or away; nothing was kept
        logger.exception("A hook message was not kept")
        problem = _problem(HTTPStatus.SERVICE_UNAVAILABLE, "The message was not kept.")
        return retry_after(problem, DATABASE_WAIT_S)


def _receive(request: HttpRequest, public_id: str) -> HttpResponse:
    """Answer a message, whatever may be wrong with it."""
    source = HookSource.objects.filter(public_id=public_id).first()
    if source is None:
        return _problem(HTTPStatus.NOT_FOUND, "There is no such source.")
    if not source.is_active:
        return _problem(HTTPStatus.GONE, "This source was retired. Please stop sending.")
    body = _read_body(request)
    if body is None:
        words = f"A message has {MOST_BYTES} bytes at most."
        return _problem(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, words)
    try:
        headers = {name: request.headers.get(name, "") for name in HEADERS}
        signed = verify(_keys_of(source), headers, body, now_s=clock.now().timestamp())
        receive(source, signed.message_id, body)
    except SignatureError as error:
        return _problem(HTTPStatus.UNAUTHORIZED, str(error))
    except IdReusedError as error:
        return _problem(HTTPStatus.CONFLICT, str(error))
    except BadBodyError as error:
        return _problem(HTTPStatus.BAD_REQUEST, str(error))
    except BadMessageError as error:
        faults = [{"pointer": fault.pointer, "detail": fault.detail} for fault in error.faults]
        return _problem(HTTPStatus.UNPROCESSABLE_ENTITY, "This is not a message.", errors=faults)
    except TooOftenError as error:
        return retry_after(_problem(HTTPStatus.TOO_MANY_REQUESTS, str(error)), error.wait_s)
    except BusyError as error:
        return retry_after(_problem(HTTPStatus.SERVICE_UNAVAILABLE, str(error)), error.wait_s)
    return JsonResponse({"kept": signed.message_id}, status=HTTPStatus.ACCEPTED)


def _read_body(request: HttpRequest) -> bytes | None:
    """Return the very bytes of the body, None when there are too many."""
    said = request.headers.get("Content-Length") or "0"
    if len(said) > LONGEST_NUMBER or (said.isdecimal() and int(said) > MOST_BYTES):
        return None
    body = request.read(MOST_BYTES + 1)
    return None if len(body) > MOST_BYTES else body


def _keys_of(source: HookSource) -> list[bytes]:
    """Return the secrets a source may sign with now."""
    now: datetime.datetime = clock.now()
    texts = [source.secret]
    if source.previous_secret and source.previous_until and source.previous_until > now:
        texts.append(source.previous_secret)
    return [read_secret(text) for text in texts]


def _problem(status: HTTPStatus, detail: str, **more: Any) -> HttpResponse:
    """Return a problem document; "about:blank" says that the status is the whole type."""
    content: Mapping[str, Any] = {
        "type": "about:blank",
        "title": status.phrase,
        "status": int(status),
        "detail": detail,
        **more,
    }
    return JsonResponse(content, status=status, content_type="application/problem+json")
