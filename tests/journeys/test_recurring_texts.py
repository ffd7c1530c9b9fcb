"""Recurring texts put into the boxes of a case, and one line on which the question appears."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.journeys.conftest import DESK, PHONE, Desk, OpenPage, link_in, make_desk, text_of

pytestmark = pytest.mark.browser
SEED = """
import json
from django.core.management import call_command
from helpdesk.demo.serving import make_folders
make_folders()
call_command("migrate", verbosity=0, interactive=False)
from helpdesk.conversation.services import make_text
from helpdesk.demo.data import read_texts
from helpdesk.diagnosis.services import diagnose_case
from helpdesk.incoming.services import take_reply
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.services import note_undelivered
from helpdesk.review.services import ask_person
from tests.factories import make_case, make_user
imke = make_user("imke", role="reviewer", first_name="Imke", last_name="Sandoval")
make_user("odalys", role="admin", first_name="Odalys", last_name="Brandvold")
for text in read_texts():
    make_text(**text, actor=imke)
cases = [make_case(title=f"Box {n}") for n in range(3)]
for case in cases:
    diagnose_case(case.pk, cause="test")
ask_person(cases[2], [], words="Is the plate clean?", actor=imke)
take_reply(cases[2].pk, key="mail:1", words="It is, I washed it.", channel="mail")
mail = OutgoingMail.objects.get(kind="question")
note_undelivered(message_id=mail.message_id, status="5.1.1", words="no such user")
print(json.dumps([case.pk for case in cases]))
"""
GRAVE = {"serious", "critical"}


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> Iterator[Desk]:
    """Give a desk with recurring texts and a case for each test, all read already."""
    data = tmp_path_factory.mktemp("texts-desk")
    with make_desk(data, SEED) as made:
        yield made


def _case(desk: Desk, number: int) -> str:
    return f"/cases/{desk.seeded[number]}"


def _grave_faults(page: Page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [f"{v['id']}: {v['help']}" for v in found if v["impact"] in GRAVE]


def _keep_picture(page: Page, name: str) -> None:
    """Save a screenshot where SHOTS asks for one, to be looked at."""
    if folder := os.environ.get("SHOTS"):
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)


def test_text_is_put_in_by_keyboard_where_the_cursor_is(desk: Desk, open_page: OpenPage) -> None:
    """Alt and the full stop, a word, Enter; the focus is in the box again."""
    page = open_page(_case(desk, 0), who="imke")
    box = page.locator("#ask-words")
    box.fill("First this.\nThen that.")
    box.press("Control+Home")
    box.press("End")
    box.press("Alt+.")
    page.locator("#text-find").wait_for()
    _keep_picture(page, "texts-dialog")
    faults = _grave_faults(page)
    page.keyboard.type("how old")
    page.keyboard.press("Enter")

    page.wait_for_function("document.getElementById('ask-words').value.includes('PLA')")
    assert box.input_value().startswith("First this.\n\nOne question about the PLA: how long")
    assert box.input_value().endswith("“no idea”.\n\nThen that.")
    assert box.evaluate("box => box === document.activeElement")
    assert faults == []


def test_list_is_walked_by_arrows_and_left_with_escape(desk: Desk, open_page: OpenPage) -> None:
    """Escape changes nothing."""
    page = open_page(_case(desk, 0), who="imke")
    button = page.locator("[data-texts-for=note-body]")
    button.click()
    page.locator("#text-find").wait_for()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    second = page.evaluate("document.activeElement.textContent")
    page.keyboard.press("Escape")
    shut = page.locator("#note-body").input_value()
    button.click()
    page.locator("#text-find").wait_for()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")

    page.wait_for_function("document.getElementById('note-body').value !== ''")
    assert "We have it" in second
    assert shut == ""
    assert "Thank you, Bettine, that is with us now" in page.locator("#note-body").input_value()


def test_question_stands_on_the_line_at_once_and_in_the_letter(
    desk: Desk, open_page: OpenPage
) -> None:
    """The text goes out filled, and the person's own address with it, in both halves."""
    page = open_page(_case(desk, 1), who="imke")
    page.locator("#ask-words").press("Alt+.")
    page.locator("#text-find").fill("photo from the side")
    page.keyboard.press("Enter")
    page.locator("#ask-send").click()
    page.locator("#case-conversation >> text=could you take one more photo").wait_for()

    letter = desk.post.wait_for("Box 1")
    html = letter.get_body(("html",))
    assert html is not None
    assert "You can add it on your private page." in text_of(letter)
    assert link_in(letter)
    assert '<a href="http://' in html.get_content()
    assert "{" not in html.get_content()


def test_conversation_bars_nobody_and_says_what_was_not_delivered(
    desk: Desk, open_page: OpenPage
) -> None:
    """On a phone and on a desk, beside the case and on its own page."""
    for size, name in ((PHONE, "phone"), (DESK, "desk")):
        page = open_page(_case(desk, 2), who="imke", viewport=size)
        page.locator("#case-conversation >> text=A letter was not delivered").wait_for()
        _keep_picture(page, f"case-{name}")
        assert _grave_faults(page) == []
        page.goto(f"{_case(desk, 2)}/conversation")
        _keep_picture(page, f"conversation-{name}")
        assert _grave_faults(page) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert page.locator("text=It is, I washed it.").is_visible()


def test_preview_follows_the_typing_and_saves(desk: Desk, open_page: OpenPage) -> None:
    """Every channel shows the text while it is written."""
    for size, name in ((PHONE, "phone"), (DESK, "desk")):
        page = open_page("/texts/new", who="odalys", viewport=size)
        page.fill("#text-title", f"Look at the fan, {name}")
        page.locator("#text-body").press_sequentially("Hello {first_name}, **look** at the fan.")
        page.locator("#text-previews >> text=Hello Bettine, look at the fan.").first.wait_for()
        assert page.locator("#text-previews >> text=Hello Bettine, **look**").count() == 1
        _keep_picture(page, f"text-{name}")
        assert _grave_faults(page) == []
        page.locator("main form button.main").click()
        page.wait_for_url("**/texts")
        assert page.locator(f"text=Look at the fan, {name}").first.is_visible()
        _keep_picture(page, f"texts-{name}")
        assert _grave_faults(page) == []


def test_texts_are_copied_without_script(desk: Desk, open_page: OpenPage) -> None:
    """The panel is a link, and the texts stand on a page."""
    page = open_page(_case(desk, 0), who="imke", java_script_enabled=False)
    page.click("text=Show what was said since")
    page.click("text=Recurring texts to copy")
    assert page.locator("textarea").first.input_value()
    page.click("text=See “Dry the material” in every channel")
    assert page.locator("#text-previews").is_visible()
