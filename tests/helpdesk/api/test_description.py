"""The description of the API, and the running API held against it by schemathesis.

OpenAPI 3.1 (schema of the description: the Initiative's own, by jsonschema's vocabulary of 2020-12)
and RFC 9110 for methods and statuses; schemathesis makes requests that fit the description and
requests that do not, and judges every answer.
"""

import datetime
import json
import os
import re
import uuid
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from django.core import signals
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from django.test import Client
from hypothesis import HealthCheck, Phase, settings
from jsonschema import Draft202012Validator
from schemathesis.specs.openapi.checks import positive_data_acceptance

from helpdesk.api.checking import fits
from helpdesk.api.keys import KEY_FORM
from helpdesk.api.models import Scope
from helpdesk.api.openapi import describe
from helpdesk.api.operations import OPERATIONS
from helpdesk.api.schemas import COMPONENTS, REF, UPLOADS
from helpdesk.api.services import make_channel_token, send_report
from helpdesk.core import clock
from tests.factories import make_user

# Requests for each operation; the whole stays under a minute on two cores.
EXAMPLES = int(os.environ.get("PRINTWARD_API_EXAMPLES", "20"))


def test_schemas_are_schemas() -> None:
    for schema in COMPONENTS.values():
        Draft202012Validator.check_schema(schema)


def test_description_is_public_and_names_every_operation(db: None) -> None:
    response = Client().get("/api/v1/openapi.json")

    said = response.json()
    named = {one["operationId"] for path in said["paths"].values() for one in path.values()}
    assert said["openapi"].startswith("3.1.")
    assert named == {operation.name for operation in OPERATIONS}
    assert "no-store" not in response.headers.get("Cache-Control", "")


def test_every_reference_in_the_description_leads_somewhere() -> None:
    text = json.dumps(describe())
    named = {part.split('"')[0] for part in text.split("#/components/schemas/")[1:]}

    assert named <= set(COMPONENTS)


@pytest.fixture
def _open_connection() -> Iterator[None]:
    """Keep the test's own connection open, which a server closes after every request."""
    ends = (signals.request_started, signals.request_finished)
    for end in ends:
        end.disconnect(close_old_connections)
    yield
    for end in ends:
        end.connect(close_old_connections)


@pytest.fixture
def token(db: None, _open_connection: None) -> tuple[str, str]:
    """Make a token with one answered case; return its secret and the case's reference."""
    row, secret = make_channel_token(
        name="schemathesis",
        channel="chat",
        handle_where="Tuesday server",
        scopes=Scope.values,
        picture_hosts=[],
        expires_at=clock.now() + datetime.timedelta(days=1),
        actor=make_user("ines", role="admin"),
    )
    ref, _ = send_report(row, {"text": "It warps."}, key="one")
    now = clock.now()
    ref.case.answers.create(body="x", edited_at=now, sent_at=now, sent_text="x")
    return secret, ref.ref


schema = schemathesis.openapi.from_wsgi("/api/v1/openapi.json", get_wsgi_application())


@schema.parametrize()
@settings(
    max_examples=EXAMPLES,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_api_does_what_its_description_says(
    case: schemathesis.Case[Any], token: tuple[str, str]
) -> None:
    secret, ref = token
    _make_it_real(case, ref)
    # No schema says whether bytes are a photo, or a document a post: those two refuse much.
    is_judged = case.path not in {"/uploads", "/inbox"}

    # The adapter hands over what comes as it is, so nothing may be packed.
    case.call_and_validate(
        headers={"Authorization": f"Bearer {secret}", "Accept-Encoding": "identity"},
        excluded_checks=[] if is_judged else [positive_data_acceptance],
    )


def _make_it_real(case: schemathesis.Case[Any], ref: str) -> None:
    """Give a request what only the desk or the sender can know, where it has the right form."""
    if re.fullmatch(REF, str(case.path_parameters.get("ref", ""))):
        case.path_parameters["ref"] = ref
    if re.fullmatch(KEY_FORM, str(case.headers.get("Idempotency-Key", ""))):
        case.headers["Idempotency-Key"] = uuid.uuid4().hex  # a key of its own for each request
    body: Any = case.body
    named = body.get("uploads") if isinstance(body, dict) else None
    if named and fits(named, UPLOADS):
        body["uploads"] = []
