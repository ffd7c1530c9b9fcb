"""The outbox folder: whole letters, for the desk's own eyes, gone with their case."""

import os
import stat
from email import message_from_bytes, policy
from pathlib import Path
from typing import Any

import pytest
from django.core.mail import EmailMessage

from helpdesk.cases.models import Case
from helpdesk.outbox.backend import OutboxFolderBackend
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.services import deliver_mail, erase_letters, queue_mail
from tests.factories import make_case


@pytest.fixture
def folder(tmp_path: Path, settings: Any) -> Path:
    """Let letters land in a folder of the test's own."""
    settings.EMAIL_BACKEND = "helpdesk.outbox.backend.OutboxFolderBackend"
    settings.OUTBOX_DIR = tmp_path / "outbox"
    return tmp_path / "outbox"


def test_letter_is_one_file_only_its_owner_can_read(case: Case, folder: Path) -> None:
    """A letter holds a private address, so nobody else on the machine reads it."""
    mail = queue_mail(case, kind="answer", subject="S", text="{private_link}", dedupe_key="k")
    assert mail

    deliver_mail(mail.pk)

    [path] = folder.iterdir()
    letter = message_from_bytes(path.read_bytes(), policy=policy.SMTP)
    half = letter.get_body(("plain",))
    assert path.suffix == ".eml"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert letter["Message-ID"] == mail.message_id
    assert half
    assert "/t/" in half.get_content()
    assert b"\r\n" in path.read_bytes()


def test_letter_cut_off_while_writing_is_no_letter(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A crash before the disk has it leaves no .eml file behind."""

    def crash(handle: int) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(os, "fsync", crash)

    with pytest.raises(OSError, match="disk full"):
        OutboxFolderBackend().send_messages([EmailMessage("S", "text", to=["a@b.example"])])

    assert list(folder.glob("*.eml")) == []


def test_erasing_a_case_removes_rows_and_files_of_its_letters_only(
    case: Case, folder: Path, django_capture_on_commit_callbacks: Any
) -> None:
    """The erased person's words are in no file; other letters stay."""
    other = make_case()
    for owner, words in ((case, "Words for Bettine"), (other, "Words for somebody else")):
        mail = queue_mail(owner, kind="answer", subject="S", text=words, dedupe_key=words)
        assert mail
        deliver_mail(mail.pk)

    with django_capture_on_commit_callbacks(execute=True):
        erase_letters(case)

    [left] = folder.iterdir()
    assert "somebody else" in left.read_text()
    assert not OutgoingMail.objects.filter(case=case).exists()
    assert OutgoingMail.objects.filter(case=other).exists()
