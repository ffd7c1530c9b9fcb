"""The command that reads letters from files."""

import mailbox
from pathlib import Path

import pytest
from django.core.management import call_command

from helpdesk.cases.models import Case
from helpdesk.mailroom.models import IncomingMail, MailState
from helpdesk.mailroom.services import receive_letter
from helpdesk.mailroom.sources import list_letters
from helpdesk.outbox.addresses import reply_address
from helpdesk.outbox.models import OutgoingMail
from tests.factories import make_case
from tests.helpdesk.mailroom.letters import letter, plain

pytestmark = pytest.mark.django_db


@pytest.fixture
def run(capsys):
    """Return a function that runs the command and gives its lines and exit status."""

    def import_mail(*arguments: str) -> tuple[list[str], int]:
        status = 0
        try:
            call_command("import_mail", *arguments)
        except SystemExit as end:
            status = int(str(end.code))
        captured = capsys.readouterr()
        return (captured.out + captured.err).splitlines(), status

    return import_mail


def test_each_letter_has_a_line_and_the_end_a_sum(run, tmp_path):
    """New case, reply, automatic, set aside and refused are told apart; a refusal is status 1."""
    case = make_case()
    for name, raw in {
        "1.eml": letter(),
        "2.eml": letter("A new nozzle.", to=reply_address(case.pk)),
        "3.eml": letter(Auto_Submitted="auto-replied"),
        "4.eml": plain("Subject: x", "", "y"),
        "5.eml": b"",
    }.items():
        (tmp_path / name).write_bytes(raw)

    lines, status = run(str(tmp_path))

    new = Case.objects.latest("pk")
    assert lines == [
        f"1.eml: new case {new.pk}",
        f"2.eml: reply to case {case.pk}",
        "3.eml: written by a machine, kept: A program wrote it (Auto-Submitted).",
        "4.eml: set aside: It names no sender that could be answered.",
        "5.eml: refused: It is empty.",
        "5 letters: 1 new case, 1 refused, 1 reply to case, 1 set aside, "
        "1 written by a machine, kept",
    ]
    assert status == 1


def test_again_changes_nothing(run, tmp_path):
    """A second run knows every letter, and exits well."""
    (tmp_path / "1.eml").write_bytes(letter(photos=1))

    first, second = run(str(tmp_path)), run(str(tmp_path))

    assert first[1] == second[1] == 0
    assert second[0] == ["1.eml: already known", "1 letters: 1 already known"]
    assert Case.objects.count() == 1
    assert OutgoingMail.objects.count() == 1


def test_run_that_was_killed_goes_on(run, tmp_path):
    """A letter that was kept and never taken is taken by the next run."""
    raw = letter()
    receive_letter(raw, origin="import_mail")
    (tmp_path / "1.eml").write_bytes(raw)

    lines, _ = run(str(tmp_path))

    assert lines[0] == f"1.eml: new case {Case.objects.get().pk}"


@pytest.mark.parametrize("paths", [[], ["/no/such/place"]])
def test_wrong_use_is_status_2_and_changes_nothing(run, paths):
    """A path that is not there is said before any letter is read."""
    lines, status = run(*paths)

    assert status == 2
    assert lines
    assert not IncomingMail.objects.exists()


def test_folder_without_letters_is_wrong_use(run, tmp_path):
    """A folder of something else is no mailbox."""
    assert run(str(tmp_path))[1] == 2


def test_maildir_is_read_from_cur_and_new(run, tmp_path):
    """A maildir written by the standard library is read; its tmp folder is not."""
    box = mailbox.Maildir(str(tmp_path / "box"))
    box.add(letter("One."))
    (tmp_path / "box" / "cur" / "2:2,S").write_bytes(letter("Two."))
    (tmp_path / "box" / "tmp" / "3").write_bytes(letter("Three."))

    lines, _ = run(str(tmp_path / "box"))

    assert lines[-1] == "2 letters: 2 new case"


def test_mbox_gives_the_letters_back_byte_for_byte(tmp_path):
    """RFC 4155, written by the standard library: lines that begin with From are unquoted."""
    first = letter("Hello\n\nFrom the start it curled.\n\nBye").replace(b"\r\n", b"\n")
    second = letter("Two.").replace(b"\r\n", b"\n")
    box = mailbox.mbox(str(tmp_path / "box"))
    for raw in (first, second):
        box.add(raw)
    box.close()

    assert [item.raw for item in list_letters(tmp_path / "box")] == [first, second]


def test_mboxrd_takes_one_mark_off(tmp_path):
    """The mboxrd variant quotes lines that are quoted already with one more mark."""
    path = tmp_path / "box"
    path.write_bytes(b"From a Wed\nSubject: x\n\n>From one\n>>From two\n> From three\n\n")

    [item] = list_letters(path)

    assert item.raw == b"Subject: x\n\nFrom one\n>From two\n> From three\n"


def test_huge_letter_in_an_mbox_costs_no_memory_and_no_other_letter(tmp_path, monkeypatch):
    """A letter above the limit is refused; those around it are read."""
    monkeypatch.setattr("helpdesk.mailroom.sources.MAX_BYTES", 1000)
    path = tmp_path / "box"
    path.write_bytes(
        b"From a\nSubject: 1\n\nx\n\nFrom b\nSubject: 2\n\n"
        + b"y" * 300_000
        + b"\n\nFrom c\nSubject: 3\n\nz\n"
    )

    items = list(list_letters(path))

    assert [bool(item.refusal) for item in items] == [False, True, False]
    assert items[2].raw == b"Subject: 3\n\nz\n"


def test_letters_set_aside_are_read_again(run, tmp_path, monkeypatch):
    """After a mended fault the option takes what was set aside."""

    def fail(raw: bytes) -> None:
        raise RuntimeError("as if the reading had a fault")

    (tmp_path / "1.eml").write_bytes(letter())
    with monkeypatch.context() as patch:
        patch.setattr("helpdesk.mailroom.services.read_letter", fail)
        run(str(tmp_path))
    assert IncomingMail.objects.get().state == MailState.QUARANTINED

    lines, status = run("--again")

    assert status == 0
    assert "new case" in lines[0]


def test_receipts_can_be_left_out(run, tmp_path):
    """An old mailbox is moved in without writing to everybody."""
    (tmp_path / "1.eml").write_bytes(letter())

    run(str(tmp_path), "--no-receipts")

    assert Case.objects.count() == 1
    assert not OutgoingMail.objects.exists()


def test_example_paths_may_be_named_together(run, tmp_path):
    """Several paths are one run; the same letter in two of them is known the second time."""
    for name in ("a.eml", "b.eml"):
        Path(tmp_path / name).write_bytes(letter(message_id="<one@tarnstreet.example>"))

    lines, _ = run(str(tmp_path / "a.eml"), str(tmp_path / "b.eml"))

    assert lines[1] == "b.eml: already known"
