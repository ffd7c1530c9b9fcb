"""The pages of tables: look, correct, bring in, hand out what was refused."""

import csv
import io
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.capture.models import TableImport
from helpdesk.cases.models import Case
from helpdesk.core.jobs import run_due_jobs
from helpdesk.core.models import Job

pytestmark = pytest.mark.django_db


@pytest.fixture
def desk(reviewer: User, as_user: Callable[[User], Client]) -> Client:
    """Return a reviewer's browser."""
    return as_user(reviewer)


def send(desk: Client, text: str | bytes) -> Any:
    """Send a table's file."""
    data = text if isinstance(text, bytes) else text.encode()
    return desk.post(reverse("capture:table"), {"table": SimpleUploadedFile("old.csv", data)})


def test_table_is_looked_at_corrected_and_brought_in(desk: Client) -> None:
    page = send(desk, "When,What\n03/04/2025,The corners lift.\n").url
    table = TableImport.objects.get()
    assert "Please choose" in desk.get(page).content.decode()

    plan = {"column_0": "opened_at", "column_1": "story", "channel": "chat"}
    desk.post(page, plan | {"date_order": "dmy", "do": "look"})
    assert "1 row" in desk.get(page).content.decode()
    assert not Case.objects.exists()
    desk.post(page, plan | {"date_order": "dmy", "do": "import"})
    run_due_jobs()

    assert "Done." in desk.get(page).content.decode()
    assert f"{Case.objects.get().opened_at:%Y-%m-%d}" == "2025-04-03"
    table.refresh_from_db()
    assert table.made == 1


def test_import_pressed_twice_is_one(desk: Client) -> None:
    page = send(desk, "What\nThe corners lift.\n").url
    plan = {"column_0": "story", "channel": "chat", "do": "import"}
    for _ in range(2):
        assert desk.post(page, plan).status_code == 302

    assert Job.objects.filter(kind="import-table").count() == 1


def test_page_without_words_cannot_be_imported(desk: Client) -> None:
    page = send(desk, "What\nThe corners lift.\n").url
    refused = desk.post(page, {"column_0": "", "channel": "chat", "do": "import"})

    assert refused.status_code == 422
    assert "which column" in refused.content.decode()


def test_file_can_be_read_another_way(desk: Client) -> None:
    page = send(desk, "What;Who\nIt lifts, badly;Ansa\n").url
    desk.post(page, {"do": "read", "encoding": "utf-8", "delimiter": ","})
    assert TableImport.objects.get().header == ["What;Who"]

    desk.post(page, {"do": "read", "encoding": "utf-8", "delimiter": ";"})
    assert TableImport.objects.get().header == ["What", "Who"]


@pytest.mark.parametrize(
    "data", [b"", b"\x00\x01", b"a,b\n", b"PK\x03\x04", b"x," * 3000], ids=repr
)
def test_bad_file_is_refused_with_a_sentence(desk: Client, data: bytes) -> None:
    response = send(desk, data)

    assert response.status_code == 422
    assert response.context["form"].errors["table"]
    assert not TableImport.objects.exists()


def test_refused_rows_come_as_text_and_no_formula(desk: Client) -> None:
    """CWE-1236: a cell that begins like a formula gets an apostrophe."""
    page = send(desk, 'What,Name,E-mail\nIt lifts.,"=HYPERLINK(""x"")",@nobody\n').url
    plan = {"column_0": "story", "column_1": "person_name", "column_2": "email"}
    desk.post(page, plan | {"channel": "chat", "do": "import"})
    run_due_jobs()
    table = TableImport.objects.get()

    response = desk.get(reverse("capture:table_refused", args=[table.pk]))

    rows = list(csv.reader(io.StringIO(response.content.decode("utf-8-sig"))))
    assert rows[0] == ["Line", "Reason", "What", "Name", "E-mail"]
    assert rows[1][0] == "2"
    assert rows[1][2:] == ["It lifts.", '\'=HYPERLINK("x")', "'@nobody"]
    assert response["Content-Disposition"].startswith("attachment")
