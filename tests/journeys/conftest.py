"""A whole desk on this machine: site, worker, mail server and a real browser."""

import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from django.conf import settings
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from fixtures_demo.render import photo_bytes
from helpdesk.demo.serving import find_free_port, serving
from tests.triage.trained import KEPT, real_classifier

PASSWORD = "a-long-enough-secret"
PROGRAMS = ("chromium", "chromium-browser", "google-chrome")
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}
WAIT_S = 20.0
LINK = re.compile(r"http://\S+/t/\S+")
SEED = """
from django.core.management import call_command
from helpdesk.demo.serving import make_folders
make_folders()
call_command("migrate", verbosity=0, interactive=False)
from tests.factories import make_user
make_user("imke", role="reviewer", first_name="Imke", last_name="Sandoval")
make_user("wren", role="producer", first_name="Wren", last_name="Okafor-Lindqvist")
make_user("odalys", role="admin", first_name="Odalys", last_name="Brandvold")
"""


@dataclass
class Postbox:
    """A mail server's handler that keeps what it is given."""

    letters: list[EmailMessage] = field(default_factory=list)

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802 - named by the library
        """Take a letter."""
        letter = message_from_bytes(envelope.content, policy=policy.default)
        assert isinstance(letter, EmailMessage)
        self.letters.append(letter)
        return "250 Thank you"

    def wait_for(self, words: str, *, where: str = "subject") -> EmailMessage:
        """Return the first letter with these words in its subject or text, once it is there."""
        give_up_at = time.monotonic() + WAIT_S
        while time.monotonic() < give_up_at:
            for letter in self.letters:
                if words in (letter["Subject"] if where == "subject" else text_of(letter)):
                    return letter
            time.sleep(0.1)
        pytest.fail(f"No letter with {words!r} among {[m['Subject'] for m in self.letters]}")


@dataclass
class Desk:
    """A desk that runs: where it is, its data and its post."""

    address: str
    data: Path
    environment: dict[str, str]
    post: Postbox
    seeded: Any = None  # what the seed printed

    def run(self, code: str) -> Any:
        """Run Python inside the desk, as its operator could; returns what it prints as JSON."""
        done = subprocess.run(  # noqa: S603 - our own command
            [sys.executable, "-c", f"import django; django.setup()\n{code}"],
            cwd=settings.BASE_DIR,
            env={**os.environ, **self.environment},
            capture_output=True,
            text=True,
            timeout=90,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout) if done.stdout.strip() else None

    def rows(self, query: str, *values: Any) -> list[tuple[Any, ...]]:
        """Return rows of the desk's database, read beside it."""
        with sqlite3.connect(self.data / "desk.sqlite3", timeout=20) as connection:
            found = connection.execute(query, values).fetchall()
        connection.close()
        return found

    def wait_until(self, query: str, *values: Any) -> None:
        """Return once a query finds something: the worker is at it."""
        give_up_at = time.monotonic() + WAIT_S
        while not self.rows(query, *values):
            assert time.monotonic() < give_up_at, query
            time.sleep(0.1)


def text_of(letter: EmailMessage) -> str:
    """Return a letter's plain text with its line breaks as written."""
    half = letter.get_body(("plain",))
    assert isinstance(half, EmailMessage)
    return str(half.get_content()).replace("\r\n", "\n")


def link_in(letter: EmailMessage) -> str:
    """Return the private address in a letter."""
    found = LINK.search(text_of(letter))
    assert found, text_of(letter)
    return found[0]


@pytest.fixture(scope="session")
def photos(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Return two photos as a phone takes them, with a place in them."""
    folder = tmp_path_factory.mktemp("photos")
    made = []
    for number, (scene, view) in enumerate((("layer-shift", "whole"), ("scorched-plug", "whole"))):
        path = folder / f"IMG_041{number}.jpg"
        path.write_bytes(photo_bytes(scene, seed=number + 1, view=view, exif_place=True))
        made.append(path)
    return made


@contextmanager
def make_desk(data: Path, seed: str, **more: str) -> Iterator[Desk]:
    """Make a database, start everything, and give the desk; `more` goes to its environment."""
    post = Postbox()
    mail_server = Controller(post, hostname="127.0.0.1", port=find_free_port())
    mail_server.start()
    port = find_free_port()
    environment = {
        "DJANGO_SETTINGS_MODULE": "helpdesk.config.settings.dev",
        "PRINTWARD_DATA": str(data),
        "PRINTWARD_PORT": str(port),
        "PRINTWARD_DATABASE": "",
        "PRINTWARD_REDIS": "",
        "PRINTWARD_SMTP_HOST": "127.0.0.1",
        "PRINTWARD_SMTP_PORT": str(mail_server.port),
        "PRINTWARD_SMTP_STARTTLS": "no",
        **more,
    }
    _give_reader(data)
    desk = Desk(f"http://127.0.0.1:{port}", data, environment, post)
    try:
        desk.seeded = desk.run(seed)
        with serving(port, environment):
            yield desk
    finally:
        mail_server.stop()


def _give_reader(data: Path) -> None:
    """Put the trained classifier where the desk looks for it, so that it need not train its own."""
    real_classifier()
    for kept in KEPT.glob("reader-*.npz"):
        shutil.copy2(kept, data)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> Iterator[Desk]:
    """Give a new desk with three people and no case."""
    with make_desk(tmp_path_factory.mktemp("desk"), SEED) as made:
        yield made


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Give a real browser without a window."""
    program = next(filter(None, map(shutil.which, PROGRAMS)), None)
    if program is None:
        words = "No Chromium is there"
        if os.environ.get("PRINTWARD_TESTS_MUST_RUN"):
            pytest.fail(f"{words} although PRINTWARD_TESTS_MUST_RUN is set")
        pytest.skip(words)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield browser
        browser.close()


OpenPage = Callable[..., Page]


@pytest.fixture
def open_page(browser: Browser, desk: Desk) -> Iterator[OpenPage]:
    """Return a function that opens an address as a visitor or a person of the desk.

    Errors in a page, and anything its policy blocks, fail the test.
    """
    contexts: list[BrowserContext] = []
    errors: list[str] = []

    def open_it(address: str, *, who: str = "", **options: Any) -> Page:
        options.setdefault("viewport", DESK if who else PHONE)
        context = browser.new_context(base_url=desk.address, reduced_motion="reduce", **options)
        context.set_default_timeout(WAIT_S * 1000)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("console", lambda said: _keep_error(errors, said))
        if who:
            log_in(page, who)
        page.goto(address)
        return page

    yield open_it
    for context in contexts:
        context.close()
    assert errors == []


def _keep_error(errors: list[str], said: Any) -> None:
    # A refused form is answered with 422 or 409 on purpose; the browser calls that an error.
    if said.type == "error" and not any(f"status of {c}" in said.text for c in (409, 422)):
        errors.append(said.text)


def log_in(page: Page, who: str) -> None:
    """Log in through the form."""
    page.goto("/accounts/login")
    page.fill("[name=username]", who)
    page.fill("[name=password]", PASSWORD)
    page.locator("main form button[type=submit]").click()
    page.wait_for_url("**/queue")
