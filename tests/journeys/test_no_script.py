"""Reporting and following a print with JavaScript switched off."""

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.conftest import Desk, OpenPage, link_in

pytestmark = pytest.mark.browser
ANSWER = """
from helpdesk.accounts.models import User
from helpdesk.answers.services import draft_answer, send_answer
from helpdesk.cases.models import Case
from helpdesk.review.services import ask_person
imke = User.objects.get(username="imke")
case = Case.objects.latest("pk")
ask_person(case, ["corners-lifted"], words="Is there a window nearby?", actor=imke)
draft = draft_answer(case, imke)
send_answer(draft.pk, draft.version, imke, "mail")
"""


def test_report_and_page_work_without_script(
    desk: Desk, open_page: OpenPage, photos: list[Path]
) -> None:
    """A refused form keeps words and photos; the private page takes replies and choices."""
    page = open_page("/report", java_script_enabled=False)
    _send_refused(page, photos)
    page.get_by_label("E-mail", exact=True).fill("callum@tarnstreet.example")
    page.locator("p.sending button").click()
    page.wait_for_url("**/t/*")
    expect(page.locator("main")).to_contain_text("your report is safe with us")
    expect(page.locator("main .strip li")).to_have_count(2)
    address = page.url.partition("?")[0]
    assert link_in(desk.post.wait_for("We have received your report")) != address

    desk.run(ANSWER)
    page.goto(address)
    _reply(page, photos)
    _allow(page)
    _tell_outcome(page)
    assert desk.rows("SELECT result FROM cases_outcome") == [("failed",)]
    assert desk.rows("SELECT state, may_show_photos FROM cases_case") == [("received", 1)]

    _erase(page)
    assert page.request.get(address).status == 404
    assert desk.rows("SELECT count(*) FROM photos_photo") == [(0,)]
    assert desk.rows("SELECT person_name, email FROM cases_case") == [("", "")]


def _send_refused(page: Page, photos: list[Path]) -> None:
    """Send the form without a way to answer, with two photos, and find everything kept."""
    page.get_by_label("Your story").fill("The corners of my tray curl up after an hour.")
    page.get_by_label("Printer", exact=True).fill("Plover Mini")
    page.set_input_files("#photos", photos)
    page.locator("p.sending button").click()

    expect(page).to_have_title("Error: please change what is marked · Report a print · Printward")
    summary = page.get_by_role("alert")
    expect(summary.get_by_role("link")).to_have_text(
        "Give an e-mail address for the answer, or choose another way."
    )
    expect(page.locator("ul.uploads .upload")).to_have_count(2)
    expect(page.locator("ul.uploads")).to_contain_text("IMG_0411.jpg")
    expect(page.get_by_label("Your story")).to_have_value(
        "The corners of my tray curl up after an hour."
    )
    expect(page.get_by_label("Printer", exact=True)).to_have_value("Plover Mini")


def _reply(page: Page, photos: list[Path]) -> None:
    """Answer the question and add words."""
    expect(page.locator("main")).to_contain_text("Our answer")
    page.get_by_label("Anything to add?").fill("Yes, right behind it.")
    page.get_by_role("button", name="Send my reply").last.click()
    expect(page.locator("main")).to_contain_text("your reply is safe with us")
    expect(page.locator(".timeline")).to_contain_text("Yes, right behind it.")


def _allow(page: Page) -> None:
    """Change what may be shown."""
    page.get_by_role("link", name="Change what we may show").click()
    page.get_by_label("You may show my photos").check()
    page.get_by_label("I am 16 or older").check()
    page.locator("main form button.main").click()
    expect(page.locator("main")).to_contain_text("Your choice is kept")


def _tell_outcome(page: Page) -> None:
    """Say with one press that the remedy did not work."""
    page.get_by_role("button", name="It did not work").click()
    expect(page.locator("main")).to_contain_text("Thank you for telling us how it went")


def _erase(page: Page) -> None:
    """Have everything deleted, after one question."""
    page.get_by_role("link", name="Delete everything about me").click()
    page.locator("main form button").click()
    page.wait_for_url("**/erased")
