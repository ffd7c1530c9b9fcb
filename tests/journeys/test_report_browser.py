"""The report form and the private page in a real browser, with and without script."""

import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

from helpdesk.cases.models import Case, CaseState, MessageKind
from helpdesk.cases.services import add_message, change_state, issue_link
from helpdesk.diagnosis.engine import list_findings
from helpdesk.photos.models import Photo
from tests.factories import make_case
from tests.helpdesk.pictures import draw_noise, draw_picture, picture_bytes

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
CHROMIUM = os.environ.get("PRINTWARD_CHROMIUM", "/usr/bin/chromium")
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
WAIT_MS = 10_000


@pytest.fixture
def browser(
    needs: Callable[[str, bool], None], monkeypatch: pytest.MonkeyPatch
) -> Iterator[Browser]:
    """Start a headless Chromium."""
    needs("Chromium", Path(CHROMIUM).exists())
    # The driver keeps an event loop in this thread, which Django would take for async code.
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "yes")
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield running
        running.close()


def open_page(browser: Browser, *, script: bool = True) -> Page:
    """Return a page of a telephone's width that records what is spoken."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, java_script_enabled=script
    )
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    return page


def record_speech(page: Page) -> None:
    """Keep every sentence of the live region."""
    page.evaluate(
        """() => {
          window.spoken = [];
          const place = document.getElementById("said");
          new MutationObserver(() => { if (place.textContent) spoken.push(place.textContent); })
            .observe(place, { childList: true, characterData: true, subtree: true });
        }"""
    )


def faults_of(page: Page) -> list[str]:
    """Return the accessibility rules a page breaks."""
    found = Axe().run(page, options={"runOnly": RULES}).response["violations"]
    return [f"{fault['id']}: {fault['nodes'][0]['html'][:100]}" for fault in found]


def files(folder: Path) -> list[Path]:
    """Write two photos and an empty file; return their paths."""
    paths = [folder / name for name in ("IMG_0410.jpg", "IMG_0411.jpg", "IMG_0412.jpg")]
    paths[0].write_bytes(picture_bytes(draw_noise(1200, 900)))
    paths[1].write_bytes(picture_bytes(draw_picture(400, 300)))
    paths[2].write_bytes(b"")
    return paths


def test_report_with_script_uploads_refuses_and_sends(
    browser: Browser, live_server: Any, tmp_path: Path
) -> None:
    """Photos go up by themselves, a refusal loses nothing, and the private page follows."""
    page = open_page(browser)
    page.goto(f"{live_server.url}/report")
    assert faults_of(page) == []
    record_speech(page)

    page.set_input_files("#photos", files(tmp_path))
    page.wait_for_selector("li.upload input >> nth=1")
    assert "IMG_0412.jpg” is empty" in page.inner_text(".upload[data-refused]")
    spoken = page.evaluate("spoken")
    for name in ("IMG_0410.jpg", "IMG_0411.jpg", "IMG_0412.jpg"):
        assert 1 <= sum(name in words for words in spoken) <= 2, spoken
    assert page.evaluate("document.getElementById('photos').value") == ""

    page.fill("#id_story", "The top of my rook moved to the left at about 43 mm.")
    page.fill("#id_failed_at_mm", "4,3cm-ish")
    page.fill("li.upload input >> nth=0", "The whole rook")
    page.click("button.main")
    page.wait_for_selector(".refusals")
    assert page.title().startswith("Error")
    assert page.evaluate("document.activeElement.classList.contains('refusals')")
    assert page.input_value("#id_failed_at_mm") == "4,3cm-ish"
    assert page.input_value("li.upload input >> nth=0") == "The whole rook"
    assert page.locator("li.upload").count() == 2
    assert faults_of(page) == []

    page.click("li.upload >> nth=1 >> button")
    page.locator("li.upload").nth(1).wait_for(state="detached")
    assert page.evaluate("document.activeElement.tagName") != "BODY"
    page.fill("#id_failed_at_mm", "43")
    page.fill("#id_email", "bettine@tarnstreet.example")
    page.click("button.main")
    page.wait_for_url(re.compile(r"/t/"))

    assert faults_of(page) == []
    assert page.locator("#address").is_visible()
    photo = Photo.objects.get()
    assert (photo.label, photo.alt_text) == ("IMG_0410.jpg", "The whole rook")
    assert photo.case == Case.objects.get()


def test_report_held_back_until_photos_have_arrived(
    browser: Browser, live_server: Any, tmp_path: Path
) -> None:
    """Pressing send during an upload waits for the photo and then sends by itself."""
    page = open_page(browser)
    page.goto(f"{live_server.url}/report")
    page.fill("#id_story", "The corners of my box curl up.")
    page.fill("#id_email", "bettine@tarnstreet.example")
    held = []
    page.route("**/report/photos", lambda route: held.append(route))

    page.set_input_files("#photos", files(tmp_path)[:1])
    page.click("button.main")
    page.wait_for_selector("text=We send it as soon as the last photo is here.")
    assert not Case.objects.exists()
    held[0].continue_()
    page.wait_for_url(re.compile(r"/t/"))

    assert Photo.objects.get().case == Case.objects.get()


def test_report_parts_step_aside(browser: Browser, live_server: Any) -> None:
    """Fields that do not apply are hidden, and come when they do."""
    page = open_page(browser)
    page.goto(f"{live_server.url}/report")

    assert page.locator("#id_email").is_visible()
    assert not page.locator("#id_handle").is_visible()
    assert not page.locator("#id_owner_name").is_visible()
    assert not page.locator("#id_web_page").is_visible()
    page.check("input[name=answer_by][value=chat]")
    page.check("input[name=whose][value=passing_on]")
    assert page.locator("#id_handle").is_visible()
    assert page.locator("#id_owner_name").is_visible()
    assert not page.locator("#id_may_show_photos").is_visible()
    assert not page.locator("#id_email").is_visible()
    assert faults_of(page) == []


def test_report_and_follow_without_script(
    browser: Browser, live_server: Any, tmp_path: Path
) -> None:
    """Everything works with script switched off: photos, refusal, reply, consent, erasure."""
    page = open_page(browser, script=False)
    page.goto(f"{live_server.url}/report")
    page.set_input_files("#photos", files(tmp_path)[0])
    page.click("button[name=do]")
    assert page.locator("li.upload").count() == 1
    page.fill("#id_story", "The corners of my box curl up.")
    page.click("button.main")
    assert "Give an e-mail address" in page.inner_text(".refusals")
    page.fill("#id_email", "bettine@tarnstreet.example")
    page.click("button.main")
    assert "/t/" in page.url
    address = page.url.partition("?")[0]
    case = Case.objects.get()
    assert case.photos.count() == 1

    page.fill("#id_words", "The bed is cold in that corner.")
    page.click("form:has(#id_words) button.main")
    assert "Thank you, your reply is safe with us." in page.inner_text("main")
    page.click("text=Change what we may show")
    page.check("#id_may_show_photos")
    page.check("input[name=age][value=over]")
    page.click("button.main")
    case.refresh_from_db()
    assert case.may_show_in_public
    page.click("text=Delete everything about me")
    page.click("button.main")
    assert "Everything about you is deleted" in page.inner_text("h1")
    answer = page.goto(address)
    assert answer
    assert answer.status == 404


def test_track_answers_a_question_by_keyboard(browser: Browser, live_server: Any) -> None:
    """A question is answered with keys alone, from a page that sends no referrer."""
    case = make_case()
    finding = list_findings("MEX")[0]
    add_message(
        case,
        kind=MessageKind.QUESTION,
        body="One thing would help most.",
        author_name="Imke",
        questions=[{"finding": finding.id, "question": finding.question, "help": finding.help}],
    )
    change_state(case, CaseState.ASKED)
    page = open_page(browser)
    page.goto(f"{live_server.url}/t/{issue_link(case)}")
    assert faults_of(page) == []

    page.focus(f"input[name='seen-{finding.id}'][value=present]")
    page.keyboard.press("ArrowDown")
    page.focus("form:has(#id_words) button.main")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Thank you, your reply is safe with us.")

    case.refresh_from_db()
    assert case.state == CaseState.RECEIVED
    assert case.finding_marks.get().state == "absent"
    assert faults_of(page) == []


def test_public_pages_fit_and_have_no_faults(browser: Browser, live_server: Any) -> None:
    """No public page scrolls sideways on a small or a large screen, and none breaks a rule."""
    page = open_page(browser)

    for path in ("/report", "/help", "/privacy", "/new-link", "/new-link/sent", "/t/nothing"):
        for width in (320, 1280):
            page.set_viewport_size({"width": width, "height": 800})
            page.goto(live_server.url + path)
            assert page.evaluate("document.documentElement.scrollWidth") <= width, path
        assert faults_of(page) == [], path
