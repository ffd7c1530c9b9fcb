"""Print files and models are kept for a case, handed out as downloads and removed."""

from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.db import transaction
from django.urls import reverse

from helpdesk.cases.erasure import erase_parts
from helpdesk.cases.models import Case
from helpdesk.core.errors import RefusedInputError
from helpdesk.printfiles import limits, services
from helpdesk.printfiles.models import CaseFile, file_storage
from helpdesk.printfiles.selectors import list_files
from tests.factories import make_case, make_user
from tests.helpdesk.printfiles.test_formats import CODE

pytestmark = pytest.mark.django_db


def receive(case: Case, data: bytes = CODE, label: str = "rook.gcode", **options: Any) -> CaseFile:
    """Keep a file for a case."""
    return services.receive_file(ContentFile(data, name=label), label=label, case=case, **options)


def test_receive_file_keeps_the_bytes_under_a_name_that_tells_nothing():
    """Row and file agree; the person's name for it is a label only."""
    row = receive(make_case(), label="../../my secret rook.gcode")

    assert row.label == "my secret rook.gcode"
    assert "secret" not in str(row.file.name)
    with file_storage().open(str(row.file.name)) as file:
        assert file.read() == CODE


def test_receive_file_keeps_the_same_file_once():
    """A file that comes twice is one row and one stored file."""
    case = make_case()

    first, second = receive(case), receive(case, label="again.gcode")

    assert first.pk == second.pk
    assert len(list_files(case)) == 1


@pytest.mark.parametrize(
    ("data", "label", "words"),
    [(b"", "rook.gcode", "is empty"), (b"MZ", "rook.exe", "is of a kind we do not take")],
)
def test_receive_file_refuses_in_words(data, label, words):
    """A refusal names the file and says what to do."""
    with pytest.raises(RefusedInputError, match=f"“{label}” {words}"):
        receive(make_case(), data, label)


def test_receive_file_refuses_one_too_many():
    """A case takes so many files at a time."""
    case = make_case()
    for number in range(limits.MAX_FILES):
        receive(case, CODE + b"; %d" % number)

    with pytest.raises(RefusedInputError, match="one too many"):
        receive(case, CODE + b"; last")


def test_file_is_a_download_for_people_of_the_desk_only(client):
    """No browser shows it, and nobody without a role gets it."""
    row = receive(make_case())
    address = reverse("printfiles:file", args=[row.pk])

    assert client.get(address).status_code == 302
    client.force_login(make_user("imke"))
    response = client.get(address)

    assert b"".join(response.streaming_content) == CODE
    assert response["Content-Disposition"] == 'attachment; filename="rook.gcode"'
    assert response["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in response["Content-Security-Policy"]


def test_erasure_removes_rows_and_bytes(django_capture_on_commit_callbacks):
    """A person who is forgotten leaves no file."""
    case = make_case()
    name = str(receive(case).file.name)

    with django_capture_on_commit_callbacks(execute=True), transaction.atomic():
        erase_parts(case)

    assert not list_files(case)
    assert not file_storage().exists(name)
