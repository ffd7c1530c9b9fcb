"""Reports by four routes, each answered the way it came, in a real browser.

A chat program reports by hook, one person writes a letter and replies, a reviewer pastes a post,
and somebody passes on another person's letter. Each has one case, one conversation, and the consent
that was given and no other.
"""

import json
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from email.message import EmailMessage
from http.server import BaseHTTPRequestHandler
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from helpdesk.hooks.signing import make_headers, read_secret, verify
from tests.helpdesk.incoming.servers import answer, serving
from tests.helpdesk.mailroom.letters import letter
from tests.journeys.conftest import SEED, WAIT_S, Desk, OpenPage, make_desk, text_of

pytestmark = pytest.mark.browser
PERSON = "Bettine Halvorsen <bettine@tarnstreet.example>"
FRIEND = "Corin Adeyemi <corin@tarnstreet.example>"
POST = "https://posts.marrowlane.example/881"
CONSENT = {
    "may_publish_answer": True,
    "may_show_photos": True,
    "credit": "handle",
    "wording": "Yes, show it, call me kiln.",
    "said_by": "kiln",
    "said_at": "2026-11-25T18:00:00Z",
}
FORWARDED = """Could you help my neighbour? It is not my print.

---------- Forwarded message ----------
From: Marla Quist <marla@lowfield.example>
Date: Tue, 24 Nov 2026 19:02
Subject: My vase
To: Corin Adeyemi <corin@tarnstreet.example>

My vase has thin strings between its two towers, hundreds of them.
"""
SET_UP = """
import json
from helpdesk.accounts.models import User
from helpdesk.hooks.events import KINDS
from helpdesk.hooks.services import make_source, make_target
actor = User.objects.get(username="odalys")
source = make_source(
    {{"name": "Chat bot", "handle_where": "Marrow Lane chat", "picture_hosts": []}}, actor=actor
)
values = {{"name": "Own bot", "url": "http://127.0.0.1:{port}/", "source": source}}
target = make_target({{**values, "kinds": list(KINDS)}}, actor=actor)
print(json.dumps([source.public_id, source.secret, target.secret]))
"""


@dataclass
class Bot:
    """A chat program: it reports to the desk and hears what happens to its reports."""

    port: int = 0
    public_id: str = ""
    secret: str = ""
    heard_secret: str = ""
    heard: list[dict[str, Any]] = field(default_factory=list)

    def take(self, handler: BaseHTTPRequestHandler) -> None:
        """Take a message if its signature holds."""
        body = handler.rfile.read(int(handler.headers["content-length"]))
        headers = {name.lower(): value for name, value in handler.headers.items()}
        verify([read_secret(self.heard_secret)], headers, body, now_s=time.time())
        self.heard.append(json.loads(body))
        answer(handler, b"", status=204)

    def say(self, desk: Desk, message_id: str, kind: str, data: dict[str, Any]) -> int:
        """Post a signed message and return the status."""
        body = json.dumps({"type": kind, "data": data}).encode()
        headers = make_headers(
            [read_secret(self.secret)],
            message_id=message_id,
            timestamp=int(time.time()),
            body=body,
        )
        request = urllib.request.Request(  # noqa: S310 - our own address
            f"{desk.address}/hooks/in/{self.public_id}", body, dict(headers)
        )
        with urllib.request.urlopen(request, timeout=WAIT_S) as response:  # noqa: S310 - as above
            return int(response.status)

    def wait_for(self, kind: str) -> dict[str, Any]:
        """Return the data of the first message of a type, once it has come."""
        give_up_at = time.monotonic() + WAIT_S
        while time.monotonic() < give_up_at:
            for message in self.heard:
                if message["type"] == kind:
                    return dict(message["data"])
            time.sleep(0.1)
        pytest.fail(f"No {kind} among {[message['type'] for message in self.heard]}")


@pytest.fixture(scope="module")
def bot() -> Iterator[Bot]:
    """Give a chat program that listens."""
    made = Bot()
    with serving(made.take) as port:
        made.port = port
        yield made


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, browser: Browser, bot: Bot) -> Iterator[Desk]:
    """Give a desk that knows the chat program."""
    seed = SEED + SET_UP.format(port=bot.port)
    folder = tmp_path_factory.mktemp("channels")
    with make_desk(folder, seed, PRINTWARD_INSIDE_HOSTS="127.0.0.1") as made:
        bot.public_id, bot.secret, bot.heard_secret = made.seeded
        yield made


def test_chat_report_is_answered_by_hook(desk: Desk, bot: Bot, open_page: OpenPage) -> None:
    """The program is believed by its signature, twice is once, and Send needs no copying."""
    report = {
        "conversation": "thread-9",
        "text": "The corners of my box curl up from the plate after an hour. PLA, bed at 45.",
        "author": {"name": "Kiln", "handle": "kiln"},
        "consent": CONSENT,
    }
    assert bot.say(desk, "msg_9", "report.created", report) == 202
    assert bot.say(desk, "msg_9", "report.created", report) == 202
    case = case_of(desk, "SELECT id FROM cases_case WHERE handle = 'kiln'")

    page = open_page(f"/cases/{case}", who="imke")
    send(page, "Send by chat server")
    expect(page.locator("#answer-panel")).to_contain_text("Sent by chat server")

    heard = bot.wait_for("answer.sent")
    assert heard["conversation"] == "thread-9"
    assert heard["texts"]
    assert not any("<" in text for text in heard["texts"])
    wait_for_words(page, f"/cases/{case}/conversation", "Sent, ")
    assert consent_of(desk, case) == (1, 1, "handle")
    assert not any("kiln" in str(mail["To"]) for mail in desk.post.letters)


def test_letter_and_reply_are_one_case_answered_by_letter(
    desk: Desk, open_page: OpenPage, tmp_path: Path
) -> None:
    """The reply finds its case by the address it was asked from, and the answer threads."""
    take(desk, tmp_path, letter(sender=PERSON, photos=1, message_id="<first@tarnstreet.example>"))
    case = case_of(desk, "SELECT id FROM cases_case WHERE email = 'bettine@tarnstreet.example'")
    receipt = desk.post.wait_for(f"case {case}")
    assert receipt["Auto-Submitted"] == "auto-replied"

    reply = letter(
        "It is the left side only.\n\nOn Wed the desk wrote:\n> We have received your report\n",
        sender=PERSON,
        to=str(receipt["Reply-To"]),
        subject="Re: whatever",
        In_Reply_To=str(receipt["Message-ID"]),
        message_id="<second@tarnstreet.example>",
    )
    take(desk, tmp_path, reply)
    take(desk, tmp_path, reply)

    page = open_page(f"/cases/{case}", who="imke")
    send(page, "Send by e-mail")
    expect(page.locator("#answer-panel")).to_contain_text("Sent by e-mail")
    sent = wait_for_letter(desk, "bettine@tarnstreet.example", "Hello Bettine")
    assert "second@tarnstreet.example" in str(sent["References"])
    assert sent.get_body(("html",)) is not None
    page.goto(f"/cases/{case}/conversation")
    expect(page.locator("main")).to_contain_text("It is the left side only.")
    count = "SELECT count(*) FROM cases_message WHERE case_id = ? AND kind = 'reply'"
    assert desk.rows(count, case) == [(1,)]
    assert consent_of(desk, case) == (0, 0, "anonymous")


def test_pasted_post_is_answered_by_copying(desk: Desk, open_page: OpenPage) -> None:
    """What no program carries is cut for its channel, copied, and noted as sent."""
    page = open_page("/capture", who="imke")
    page.locator("#id_words").fill("Every wall of my tower is striped, the same distance apart.")
    page.locator("[name=link]").fill(POST)
    page.select_option("[name=channel]", "social")
    page.locator("[name=handle]").fill("@tern")
    page.locator("[name=handle_where]").fill("the wall")
    page.locator("[name=handle_where]").press("Control+Enter")
    page.wait_for_selector("#made")
    case = case_of(desk, "SELECT case_id FROM cases_report WHERE link = ?", POST)

    page.goto(f"/cases/{case}")
    open_draft(page)
    page.locator("#answer-copy").click()
    expect(page.locator("#piece-1")).to_be_visible()
    page.locator("#answer-sent").click()
    expect(page.locator("#answer-panel")).to_contain_text("Sent by social post")
    wait_for_words(page, f"/cases/{case}/conversation", "where it stood")
    assert consent_of(desk, case) == (0, 0, "anonymous")
    assert not desk.rows("SELECT 1 FROM outbox_outgoingmail WHERE case_id = ?", case)


def test_forwarded_letter_is_answered_to_who_sent_it_on(
    desk: Desk, open_page: OpenPage, tmp_path: Path
) -> None:
    """Whose print it is stands apart from who found it, and nothing is agreed for the owner."""
    take(desk, tmp_path, letter(FORWARDED, sender=FRIEND, subject="Fwd: My vase"))
    case = case_of(desk, "SELECT id FROM cases_case WHERE email = 'corin@tarnstreet.example'")
    assert desk.rows("SELECT is_own_print, owner_name FROM cases_case WHERE id = ?", case) == [
        (0, "Marla Quist")
    ]

    page = open_page(f"/cases/{case}", who="imke")
    expect(page.locator("main")).to_contain_text("who passes it on for Marla Quist")
    send(page, "Send by e-mail")
    wait_for_letter(desk, "corin@tarnstreet.example", "Hello Corin")
    assert not any("marla" in str(mail["To"]) for mail in desk.post.letters)
    assert consent_of(desk, case) == (0, 0, "anonymous")


def take(desk: Desk, folder: Path, raw: bytes) -> None:
    """Let the desk take in a letter that lies in a file."""
    path = folder / "letter.eml"
    path.write_bytes(raw)
    desk.run(
        "from django.core.management import call_command\n"
        "import io\n"
        "from helpdesk.core.jobs import run_due_jobs\n"
        f"call_command('import_mail', {str(path)!r}, stdout=io.StringIO())\n"
        "run_due_jobs()"
    )


def case_of(desk: Desk, query: str, *values: Any) -> int:
    """Return the one case a query finds, once the engine has looked at it."""
    desk.wait_until(query, *values)
    found = desk.rows(query, *values)
    assert len(found) == 1
    case = int(found[0][0])
    desk.wait_until("SELECT 1 FROM diagnosis_diagnosisrun WHERE case_id = ?", case)
    return case


def consent_of(desk: Desk, case: int) -> tuple[int, int, str]:
    """Return what may be shown of a case, and how its person is named."""
    return desk.rows(
        "SELECT may_publish_answer, may_show_photos, credit_kind FROM cases_case WHERE id = ?", case
    )[0]


def open_draft(page: Page) -> None:
    """Let the desk draft the answer."""
    page.locator("#answer-start").click()
    expect(page.locator("#answer-body")).to_be_visible()


def send(page: Page, button: str) -> None:
    """Draft the answer and send it as it is."""
    open_draft(page)
    expect(page.locator("#answer-send")).to_have_text(button)
    page.locator("#answer-send").click()


def wait_for_words(page: Page, address: str, words: str) -> None:
    """Load a page until it says something: the worker is at it."""
    give_up_at = time.monotonic() + WAIT_S
    page.goto(address)
    while words not in page.locator("main").inner_text():
        assert time.monotonic() < give_up_at, page.locator("main").inner_text()
        time.sleep(0.3)
        page.goto(address)


def wait_for_letter(desk: Desk, to: str, words: str) -> EmailMessage:
    """Return the letter to somebody with these words in it, once it is there."""
    give_up_at = time.monotonic() + WAIT_S
    while time.monotonic() < give_up_at:
        for mail in desk.post.letters:
            if to in str(mail["To"]) and words in text_of(mail):
                return mail
        time.sleep(0.1)
    pytest.fail(f"No letter to {to} with {words!r}")
