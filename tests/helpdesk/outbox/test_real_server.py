"""Every letter of the desk through Exim, a mail server in wide use, strictly read at the far end.

The server is Debian's exim4-daemon-light, with a configuration and a folder of its own.
"""

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.template.loader import render_to_string

from helpdesk.accounts.models import User
from helpdesk.answers.services import draft_answer, send_answer
from helpdesk.cases.models import Case, Channel
from helpdesk.core.jobs import run_due_jobs
from helpdesk.incoming.services import send_receipt
from helpdesk.outbox.addresses import reply_address
from helpdesk.outbox.errors import MailNotSentError
from helpdesk.outbox.marks import find_mark
from helpdesk.outbox.models import MailKind, OutgoingMail
from helpdesk.outbox.services import deliver_mail, note_incoming, queue_mail
from helpdesk.review.services import ask_person
from tests.factories import make_case

WAIT_S = 30.0
LINE_LIMIT = 998  # RFC 5322 section 2.1.1
ROOTS_OTHER = "Debian-exim"  # Exim delivers nothing as root
CONFIGURATION = """
primary_hostname = post.example
spool_directory = {folder}/spool
log_file_path = {folder}/spool/%slog
pid_file_path = {folder}/spool/pid
exim_user = {user}
exim_group = {group}
daemon_smtp_ports = {port}
local_interfaces = 127.0.0.1
tls_advertise_hosts =
acl_smtp_rcpt = check_rcpt
acl_smtp_data = check_data
begin acl
check_rcpt:
  deny message = 5.1.1 no such user
       local_parts = nobody
  accept domains = tarnstreet.example
  deny message = 5.7.1 relaying is refused
check_data:
  deny message = 5.6.0 header syntax
       !verify = header_syntax
  accept
begin routers
keep:
  driver = accept
  transport = keep
begin transports
keep:
  driver = appendfile
  directory = {folder}/mail
  maildir_format
  user = {user}
  return_path_add
"""


@dataclass(frozen=True)
class Server:
    """A mail server that runs: its port and where it puts what it delivers."""

    port: int
    mail: Path

    def wait_for(self, count: int) -> list[bytes]:
        """Return the letters once so many are there, in the order of their delivery."""
        give_up_at = time.monotonic() + WAIT_S
        while len(found := sorted(self.mail.glob("new/*"), key=lambda p: p.stat().st_mtime_ns)) < (
            count
        ):
            assert time.monotonic() < give_up_at, f"{len(found)} of {count} letters"
            time.sleep(0.05)
        return [path.read_bytes() for path in found]


@pytest.fixture
def server(needs: Callable[[str, bool], None], settings: Any) -> Iterator[Server]:
    """Run the mail server and let the desk use it."""
    program = shutil.which("exim4", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    needs("The mail server exim4", program is not None)
    assert program
    owner = pwd.getpwnam(ROOTS_OTHER) if os.geteuid() == 0 else pwd.getpwuid(os.geteuid())
    folder = Path(tempfile.mkdtemp(prefix="desk-post-"))
    folder.chmod(0o755)
    for name in ("spool", "mail"):
        (folder / name).mkdir()
        os.chown(folder / name, owner.pw_uid, owner.pw_gid)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    path = folder / "exim.conf"
    words = {"folder": folder, "user": owner.pw_name, "group": owner.pw_gid, "port": port}
    path.write_text(CONFIGURATION.format(**words))
    path.chmod(0o644)
    running = subprocess.Popen(  # noqa: S603 - the system's own mail server
        [program, "-C", str(path), "-bdf"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        _wait_until_it_greets(port)
        settings.EMAIL_BACKEND = "helpdesk.outbox.smtp.EnvelopeBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
        settings.EMAIL_USE_TLS, settings.EMAIL_HOST_USER = False, ""
        yield Server(port, folder / "mail")
    finally:
        running.terminate()
        running.wait(timeout=10)
        shutil.rmtree(folder, ignore_errors=True)


def _wait_until_it_greets(port: int) -> None:
    give_up_at = time.monotonic() + WAIT_S
    while True:
        try:
            with socket.create_connection(("127.0.0.1", port), timeout=2) as connection:
                assert connection.recv(4).startswith(b"220")
                return
        except ConnectionRefusedError:
            assert time.monotonic() < give_up_at, "the mail server does not greet"
            time.sleep(0.05)


def _read(raw: bytes) -> EmailMessage:
    """Return a letter read strictly: any defect is an error."""
    strict = policy.default.clone(raise_on_defect=True)
    letter = message_from_bytes(raw, policy=strict)
    for part in letter.walk():
        for header in part.values():
            assert header.defects == ()
    return letter


def _queue_rest(case: Case) -> None:
    """Write the letters whose causes belong to other apps, from their own templates."""
    context = {
        "case": case,
        "desk_name": django_settings.DESK_NAME,
        "is_mail": True,
        "greeting": case.person_name,
        "links": [],
        "episode": {"number": 7, "title": "Bänder & Riemen", "link": "https://a.example/7"},
        "second": 95,
    }
    for kind, folder in ((MailKind.FEATURED, "episodes"), (MailKind.FOLLOW_UP, "followup")):
        folder_of = Path(django_settings.BASE_DIR) / f"templates/{folder}/email"
        [path] = [each for each in folder_of.glob("*.txt") if "subject" not in each.name]
        queue_mail(
            case,
            kind=kind,
            subject=f"{kind} “{case.title}”",
            text=render_to_string(f"{folder}/email/{path.name}", context),
            dedupe_key=f"{folder}:{case.pk}",
            is_automatic=kind == MailKind.FOLLOW_UP,
        )


@pytest.mark.django_db
def test_every_kind_of_letter_arrives_whole(server: Server, reviewer: User) -> None:
    """Strictly read at the far end: parts, ids, thread, return path, lines."""
    case = make_case(
        title='Łódź "box", <b> & 印刷\u202e; a, b',
        person_name="Bettine, <all@there.example> Halvorsen",
        email="bettine@tarnstreet.example",
    )
    send_receipt(case)
    note_incoming(case, "<1@there.example>", "", "Schräge Ecken – 印刷")
    ask_person(case, [], words="Is it “clean”? " + "Look again. " * 200, actor=reviewer)
    draft = draft_answer(case, reviewer)
    send_answer(draft.pk, draft.version, reviewer, Channel.MAIL)
    _queue_rest(case)
    run_due_jobs()

    mails = {mail.message_id: mail for mail in OutgoingMail.objects.all()}
    about_cases = [kind for kind in MailKind.values if kind != MailKind.REPLY]  # that asks a maker
    raws = server.wait_for(len(about_cases))
    letters = [_read(raw) for raw in raws]
    kinds = [mails[letter["Message-ID"]].kind for letter in letters]
    assert sorted(kinds) == sorted(about_cases)
    for raw, letter, kind in zip(raws, letters, kinds, strict=True):
        mail = mails[letter["Message-ID"]]
        half = letter.get_body(("plain",))
        assert half
        expected = mail.text.split("{private_link}")[0].splitlines()[:-1]
        assert half.get_content().splitlines()[: len(expected)] == expected
        assert letter["Subject"].strip() == mail.subject
        assert letter["To"].addresses[0].addr_spec == "bettine@tarnstreet.example"
        assert letter["Reply-To"].addresses[0].addr_spec == reply_address(case.pk)
        path = f"<{reply_address(case.pk)}>" if kind != MailKind.RECEIPT else "<>"
        assert letter["Return-path"] == path
        assert (letter.get_body(("html",)) is None) is (kind == MailKind.RECEIPT)
        assert raw.isascii()
        assert max(len(line) for line in raw.splitlines()) <= LINE_LIMIT
        assert (letter["Auto-Submitted"] or "no") == {
            MailKind.RECEIPT: "auto-replied",
            MailKind.FOLLOW_UP: "auto-generated",
        }.get(MailKind(kind), "no")


@pytest.mark.django_db
def test_server_that_knows_no_such_user_ends_the_matter(server: Server) -> None:
    """The refusal in the dialogue marks letter and address; nothing is tried again."""
    case = make_case(email="nobody@tarnstreet.example")
    mail = queue_mail(case, kind=MailKind.ANSWER, subject="S", text="t", dedupe_key="k")
    assert mail

    deliver_mail(mail.pk)

    mail.refresh_from_db()
    mark = find_mark(case.email)
    assert mail.undelivered_why.startswith("5.1.1")
    assert mark
    assert mark.undeliverable_at


@pytest.mark.django_db
def test_server_that_refuses_for_its_own_reasons_is_asked_again(server: Server) -> None:
    """A policy is no wrong address."""
    case = make_case(email="bettine@elsewhere.example")
    mail = queue_mail(case, kind=MailKind.ANSWER, subject="S", text="t", dedupe_key="k")
    assert mail

    with pytest.raises(MailNotSentError, match=r"5\.7\.1 relaying is refused"):
        deliver_mail(mail.pk)

    assert find_mark(case.email) is None
