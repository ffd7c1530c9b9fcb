"""A real IMAP and POP3 server, as Debian packages it, in a folder of its own."""

import getpass
import grp
import os
import pwd
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

PASSWORD = "a secret/with @ and % signs"
USER = "clinic"
START_S = 20
# With root's rights Dovecot wants others for its parts; without them everything is the caller.
CONFIG = """
base_dir = {base}/run
state_dir = {base}/state
log_path = {base}/log
protocols = imap pop3
ssl = no
disable_plaintext_auth = no
auth_mechanisms = plain login
auth_failure_delay = 0
mail_location = maildir:{base}/mail/%u
mail_uid = {uid}
mail_gid = {gid}
first_valid_uid = 1
first_valid_gid = 1
default_internal_user = {internal}
default_internal_group = {internal_group}
default_login_user = {login}
passdb {{
  driver = passwd-file
  args = scheme=PLAIN {base}/passwd
}}
userdb {{
  driver = static
  args = uid={uid} gid={gid} home={base}/mail/%u
}}
service anvil {{
  chroot =
}}
service imap-login {{
  chroot =
  inet_listener imap {{
    address = 127.0.0.1
    port = {imap}
  }}
  inet_listener imaps {{
    port = 0
  }}
}}
service pop3-login {{
  chroot =
  inet_listener pop3 {{
    address = 127.0.0.1
    port = {pop3}
  }}
  inet_listener pop3s {{
    port = 0
  }}
}}
service stats {{
  chroot =
}}
"""


@dataclass(frozen=True)
class Server:
    """A running server and where its letters lie."""

    imap_port: int
    pop3_port: int
    maildir: Path
    uid: int
    gid: int

    def put(self, raw: bytes, name: str, *, folder: str = "new") -> None:
        """Lay a letter into the mailbox as a mail server would."""
        path = self.maildir / "tmp" / name
        path.write_bytes(raw)
        os.chown(path, self.uid, self.gid)
        path.rename(self.maildir / folder / name)


def free_port() -> int:
    """Return a port nobody uses just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="session")
def dovecot_program() -> str | None:
    """Return the server's program, None where the package is missing."""
    return shutil.which("dovecot") or shutil.which("dovecot", path="/usr/sbin")


@pytest.fixture
def mail_server(
    needs: Callable[[str, bool], None], dovecot_program: str | None, tmp_path: Path
) -> Iterator[Server]:
    """Run Dovecot on free ports with one empty mailbox."""
    needs("Dovecot (packages dovecot-imapd and dovecot-pop3d)", dovecot_program is not None)
    assert dovecot_program
    server, config = _lay_out(tmp_path)
    process = subprocess.Popen(  # noqa: S603 - the program found above
        [dovecot_program, "-F", "-c", str(config)], stderr=subprocess.DEVNULL
    )
    try:
        _wait_for(server.imap_port, process, tmp_path / "log")
        _wait_for(server.pop3_port, process, tmp_path / "log")
        yield server
    finally:
        process.terminate()
        process.wait(timeout=START_S)


def _lay_out(base: Path) -> tuple[Server, Path]:
    """Write the server's configuration and an empty mailbox."""
    is_root = os.geteuid() == 0
    owner = pwd.getpwnam("nobody") if is_root else pwd.getpwuid(os.geteuid())
    me = getpass.getuser()
    server = Server(free_port(), free_port(), base / "mail" / USER, owner.pw_uid, owner.pw_gid)
    for folder in ("run", "state", "mail"):
        (base / folder).mkdir()
    for folder in ("", "cur", "new", "tmp"):
        (server.maildir / folder).mkdir()
    for path in (base / "mail", server.maildir, *server.maildir.iterdir()):
        os.chown(path, owner.pw_uid, owner.pw_gid)
    for path in [base, *list(base.parents)[:3]]:  # other users must be able to pass through
        if path.stat().st_uid == os.geteuid() and path != Path("/tmp"):  # noqa: S108
            path.chmod(path.stat().st_mode | 0o711)
    (base / "passwd").write_text(f"{USER}:{{PLAIN}}{PASSWORD}\n")
    (base / "passwd").chmod(0o644)
    text = CONFIG.format(
        base=base,
        uid=owner.pw_uid,
        gid=owner.pw_gid,
        internal="dovecot" if is_root else me,
        internal_group="dovecot" if is_root else grp.getgrgid(os.getegid()).gr_name,
        login="dovenull" if is_root else me,
        imap=server.imap_port,
        pop3=server.pop3_port,
    )
    config = base / "dovecot.conf"
    config.write_text(text)
    return server, config


def _wait_for(port: int, process: "subprocess.Popen[bytes]", log: Path) -> None:
    """Wait until the server answers; fail with its log when it stops."""
    end = time.monotonic() + START_S
    while time.monotonic() < end:
        if process.poll() is not None:
            break
        with socket.socket() as probe:
            probe.settimeout(1)
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)
    pytest.fail(f"Dovecot did not start: {log.read_text() if log.exists() else 'no log'}")
