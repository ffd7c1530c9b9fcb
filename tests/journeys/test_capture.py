"""A reviewer brings reports in with the keyboard alone, in a real browser."""

import base64
import time
from dataclasses import dataclass
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.journeys.conftest import DESK, PHONE, Desk, OpenPage

pytestmark = pytest.mark.browser
GRAVE = {"serious", "critical"}
LINK = "https://posts.marrowlane.example/771"
CHAT = """[18:03] kiln: The corners of my rook lift off the plate.
It is the third time this week.
[18:05] imke: Which plate is it?
[18:07] kiln: Smooth, at 60 degrees."""
# Keystroke-level model: Card, Moran & Newell, Communications of the ACM 23(7), 1980. From memory: a
# key takes an average typist who is no expert 0.28 s, and making up one's mind 1.35 s.
KEY_S = 0.28
MIND_S = 1.35
LONGEST_S = 20
COUNT_POINTER = """
for (const kind of ["pointerdown", "mousedown", "touchstart", "wheel"]) {
  addEventListener(kind, () => {
    localStorage.setItem("pointer", Number(localStorage.getItem("pointer") ?? 0) + 1);
  }, true);
}
"""
PUT_PICTURE = """async (data) => {
  const bytes = Uint8Array.from(atob(data), (c) => c.charCodeAt(0));
  const image = await createImageBitmap(new Blob([bytes], { type: "image/jpeg" }));
  const canvas = new OffscreenCanvas(image.width, image.height);
  canvas.getContext("2d").drawImage(image, 0, 0);
  const png = await canvas.convertToBlob({ type: "image/png" });
  await navigator.clipboard.write([new ClipboardItem({ "image/png": png })]);
}"""
DROP_FILES = """([name, words]) => {
  const data = new DataTransfer();
  data.items.add(new File([words], name));
  document.querySelector("main form").dispatchEvent(
    new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true }));
}"""


@dataclass
class Hands:
    """Two hands on a keyboard: counts what they press and how often they have to think."""

    page: Page
    keys: int = 0
    thoughts: int = 0

    def press(self, *names: str) -> None:
        """Press keys one after the other; a key held with another counts twice."""
        for name in names:
            self.page.keyboard.press(name)
            self.keys += 1 + name.count("+")

    def type(self, words: str) -> None:
        """Type words."""
        self.page.keyboard.type(words)
        self.keys += len(words)

    def paste(self, words: str) -> None:
        """Paste words that were copied elsewhere; deciding to do so is one thought."""
        self.page.evaluate("words => navigator.clipboard.writeText(words)", words)
        self.thoughts += 1
        self.press("Control+v")

    @property
    def seconds(self) -> float:
        """Return how long a person takes, by the keystroke-level model."""
        return self.keys * KEY_S + self.thoughts * MIND_S


@pytest.fixture
def page(open_page: OpenPage) -> Page:
    """Return the page for reports brought in, with a clipboard and a count of pointer events."""
    page = open_page("/queue", who="imke")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.context.add_init_script(COUNT_POINTER)
    page.goto("/capture")
    page.evaluate("localStorage.clear()")
    return page


def focused(page: Page) -> str:
    """Return the name or id of what has the focus."""
    return str(page.evaluate("document.activeElement.name || document.activeElement.id"))


def test_post_is_saved_by_keys_alone_within_twenty_seconds(page: Page, desk: Desk) -> None:
    hands = Hands(page)
    since = time.monotonic()
    assert focused(page) == "words"

    hands.paste("The vase came out with a seam as thick as a nail.")
    hands.press("Tab")
    assert focused(page) == "link"
    hands.paste(LINK)
    hands.press("Tab")
    hands.type("So")  # the list jumps to "Social post"
    hands.press("Tab")
    hands.type("@tern")
    hands.press("Tab")
    hands.type("the wall")
    hands.thoughts += 1
    hands.press("Control+Enter")
    page.wait_for_selector("#made")
    took_s = time.monotonic() - since

    print(f"{hands.keys} keys, {hands.seconds:.1f} s for a person")  # noqa: T201 - for the docs
    assert hands.seconds < LONGEST_S
    assert took_s < LONGEST_S
    assert page.evaluate("localStorage.getItem('pointer')") is None
    assert focused(page) == "words"
    story, link, channel, handle = desk.rows(
        "SELECT r.story, r.link, c.channel, c.handle FROM cases_report r JOIN cases_case c"
        " ON c.id = r.case_id WHERE r.link = ?",
        LINK,
    )[0]
    assert (link, channel, handle) == (LINK, "social", "@tern")
    assert story.startswith("The vase")


def test_piece_of_a_chat_is_sorted_out_by_keys(page: Page, desk: Desk) -> None:
    hands = Hands(page)

    hands.paste(CHAT)
    page.wait_for_selector(".speakers")
    assert page.input_value("[name=handle]") == ""  # nothing is sorted before it is chosen
    hands.press("Tab", "Enter")
    expect(page.locator("[name=handle]")).to_have_value("kiln")
    assert "Which plate" not in page.input_value("[name=words]")
    expect(page.locator("#id_words")).to_be_focused()
    hands.press("Tab", "Tab")
    assert focused(page) == "channel"
    hands.type("C")
    hands.press("Tab", "Tab")
    assert focused(page) == "handle_where"
    hands.press("Control+a")
    hands.type("our chat")
    hands.thoughts += 3
    hands.press("Control+Enter")
    page.wait_for_selector("#made")

    print(f"{hands.keys} keys, {hands.seconds:.1f} s for a person")  # noqa: T201 - for the docs
    assert hands.seconds < LONGEST_S
    assert page.evaluate("localStorage.getItem('pointer')") is None
    assert desk.rows("SELECT channel FROM cases_case WHERE handle = 'kiln' ORDER BY id DESC")[
        0
    ] == ("chat",)
    assert page.input_value("[name=channel]") == "chat"  # remembered for the next one
    assert page.input_value("[name=handle_where]") == "our chat"


def test_picture_is_pasted_and_print_file_dropped(
    page: Page, desk: Desk, photos: list[Path]
) -> None:
    hands = Hands(page)
    hands.type("One layer is shifted to the left.")
    page.evaluate(PUT_PICTURE, base64.b64encode(photos[0].read_bytes()).decode())
    hands.press("Control+v")
    page.wait_for_selector(".upload [name=remove]")
    page.evaluate(DROP_FILES, ["rook.gcode", "G28\nG1 X10 E1\n"])
    assert page.evaluate("document.getElementById('files').files.length") == 1
    page.select_option("[name=channel]", "person")
    page.focus("[name=words]")
    hands.press("Control+Enter")
    page.wait_for_selector("#made")

    case = desk.rows("SELECT max(id) FROM cases_case")[0][0]
    assert desk.rows("SELECT count(*) FROM photos_photo WHERE case_id = ?", case) == [(1,)]
    assert desk.rows("SELECT label FROM printfiles_casefile WHERE case_id = ?", case) == [
        ("rook.gcode",)
    ]


def test_known_address_is_shown_while_it_stands_there(page: Page) -> None:
    for _ in range(2):
        hands = Hands(page)
        hands.type("The roof of the house is full of holes.")
        page.fill("[name=link]", "https://posts.marrowlane.example/772")
        page.select_option("[name=channel]", "other")
        if page.locator("#made").count():
            break
        hands.press("Control+Enter")
        page.wait_for_selector("#made")

    page.wait_for_selector("#seen .notice a")
    assert "Perhaps" in (page.text_content("#said") or "")


def test_refused_form_keeps_words_and_photos(page: Page, photos: list[Path]) -> None:
    page.set_input_files("#photos", [photos[0]])
    page.wait_for_selector(".upload [name=remove]")
    page.keyboard.press("Control+Enter")

    page.wait_for_selector(".refusals")
    assert page.locator(".upload").count() == 1


@pytest.mark.parametrize("has_script", [True, False])
def test_form_works_with_and_without_script(
    open_page: OpenPage, desk: Desk, photos: list[Path], has_script: bool
) -> None:
    page = open_page("/capture", who="imke", java_script_enabled=has_script)
    page.fill("[name=words]", CHAT)
    if not has_script:
        page.get_by_role("button", name="Look at the words").click()
    page.get_by_role("button", name="Keep only these words of kiln").click()
    page.locator("[name=handle]").and_(page.locator("[value=kiln]")).wait_for()
    page.set_input_files("#photos", [photos[1]])
    page.select_option("[name=channel]", "chat")
    page.fill("[name=handle_where]", "our chat")
    page.locator(".button.main").click()
    page.wait_for_url("**/capture?made=*")

    case = page.url.partition("made=")[2]
    assert desk.rows("SELECT count(*) FROM photos_photo WHERE case_id = ?", case) == [(1,)]


@pytest.mark.parametrize("size", [PHONE, DESK])
def test_page_bars_nobody(page: Page, size: dict[str, int]) -> None:
    page.set_viewport_size(size)  # type: ignore[arg-type]
    page.fill("[name=words]", CHAT)
    page.wait_for_selector(".speakers")
    page.get_by_text("They said what may be shown").click()

    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]

    assert [f"{r['id']}: {r['nodes'][0]['html'][:80]}" for r in found if r["impact"] in GRAVE] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
