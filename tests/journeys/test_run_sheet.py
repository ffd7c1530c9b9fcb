"""Two producers at one run sheet, and its script in big type, in a real browser."""

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.conftest import Desk, OpenPage

pytestmark = pytest.mark.browser
MAKE = """
import datetime
from helpdesk.core import clock
from helpdesk.episodes.models import Episode
from helpdesk.episodes.services import make_episode
Episode.objects.filter(number=38).delete()
make_episode(number=38, title="Knocks", starts_at=clock.now(), slot_s=1200, words_per_minute=175)
"""
SWITCH_KEYS = """
from helpdesk.accounts.models import User
User.objects.filter(username="wren").update(has_keys={has_keys})
"""
SHEET = "/episodes/38"
MOVED = "select position from episodes_segment where slug = 'Hello' and position = 1"


def test_two_producers_lose_nothing(desk: Desk, open_page: OpenPage) -> None:
    """What is typed late stands beside what was kept; a redrawn sheet is no conflict."""
    desk.run(MAKE)
    one, other = (open_page(SHEET, who="wren") for _ in range(2))
    for page in (one, other):
        page.get_by_role("link", name="What is coming").click()
        page.get_by_label("Words to be spoken").wait_for()
    _keep(one, "Words of the first")
    _keep(other, "Words of the second")

    expect(other.get_by_role("alert")).to_contain_text("here are both versions")
    expect(other.get_by_label("Words to be spoken, as it stands now")).to_have_value(
        "Words of the first"
    )
    expect(other.get_by_label("Words to be spoken", exact=True)).to_have_value(
        "Words of the second"
    )
    other.get_by_role("button", name="Keep").click()
    expect(other.get_by_text("Words of the second")).to_be_visible()

    _move_hello_up_and_add(desk, other)


def _keep(page: Page, words: str) -> None:
    """Write a script and keep it; the page says its length while it is typed."""
    page.get_by_label("Words to be spoken").fill(words)
    expect(page.locator("[data-spoken]")).to_contain_text("4 words at 175 a minute")
    page.get_by_role("button", name="Keep").click()


def _move_hello_up_and_add(desk: Desk, page: Page) -> None:
    """Move a part, then add one from the form that stood there before the sheet was redrawn."""
    page.get_by_role("button", name="Move Hello up").click()
    desk.wait_until(MOVED)
    expect(page.locator("#sheet tbody tr").first).to_contain_text("Hello")
    page.get_by_label("Slug").fill("A letter")
    page.get_by_role("button", name="Add where it usually stands").click()
    expect(page.get_by_role("link", name="A letter")).to_be_visible()
    expect(page.get_by_text("Somebody else changed the sheet")).to_have_count(0)


def test_script_keeps_its_size_when_single_keys_are_off(desk: Desk, open_page: OpenPage) -> None:
    """Who speaks to the computer does not size the script by a stray sign; other keys stay."""
    desk.run(MAKE)
    desk.run(SWITCH_KEYS.format(has_keys=False))
    page = open_page(f"{SHEET}/script", who="wren")

    for key in ("+", "ArrowRight"):
        page.keyboard.press(key)

    desk.run(SWITCH_KEYS.format(has_keys=True))
    expect(page.locator(".script-part:focus h2")).to_have_text("What is coming")
    expect(page.locator(".script")).to_have_attribute("data-type", "3")
    expect(page.locator(".script-bar kbd", has_text="+")).to_have_count(0)


@pytest.mark.parametrize("has_script", [True, False])
def test_script_is_read_with_keys_and_without_script(
    desk: Desk, open_page: OpenPage, has_script: bool
) -> None:
    """A clicker's keys move and size the script; without JavaScript links size one long page."""
    desk.run(MAKE)
    page = open_page(f"{SHEET}/script", who="wren", java_script_enabled=has_script)

    if has_script:
        for key in ("+", "+", "ArrowRight"):
            page.keyboard.press(key)
        expect(page.locator(".script-part:focus h2")).to_have_text("What is coming")
        page.keyboard.press("ArrowRight")
        expect(page.locator(".script-part:focus h2")).to_have_text("Hello")
    else:
        for _ in range(2):
            page.get_by_role("link", name="Larger").click()

    expect(page.locator(".script")).to_have_attribute("data-type", "5")
    expect(page.get_by_role("heading", name="Until next time")).to_be_attached()
