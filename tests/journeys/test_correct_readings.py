"""A reviewer corrects what the desk read: by keys, by marking words, and without script."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.journeys.conftest import DESK, PHONE, Desk, OpenPage, log_in, make_desk

pytestmark = pytest.mark.browser
STORY = (
    "The corners curl up from the plate. I dried the filament but nothing changed. "
    "It looks like a hedgehog all over."
)
SEED = f"""
import json
from django.core.management import call_command
from helpdesk.demo.serving import make_folders
make_folders()
call_command("migrate", verbosity=0, interactive=False)
from helpdesk.diagnosis.services import diagnose_case
from tests.factories import make_case, make_user
make_user("imke", role="reviewer", first_name="Imke", last_name="Sandoval")
cases = [make_case(story={STORY!r}) for _ in range(4)]
for case in cases:
    diagnose_case(case.pk, cause="test")
print(json.dumps([case.get_absolute_url() for case in cases]))
"""
PATIENCE_MS = 90_000.0  # the first answer of a new process trains the classifier
GRAVE = {"serious", "critical"}
MARK = """words => {
  const story = document.querySelector(".story p");
  const walker = document.createTreeWalker(story, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const start = node.data.indexOf(words);
    if (start < 0) continue;
    const range = document.createRange();
    range.setStart(node, start);
    range.setEnd(node, start + words.length);
    getSelection().removeAllRanges();
    getSelection().addRange(range);
    return;
  }
  throw new Error("no such words");
}"""


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> Iterator[Desk]:
    """Give a desk with a reviewer and a case for each test, all read already."""
    data = tmp_path_factory.mktemp("readings-desk")
    with make_desk(data, SEED) as made:
        yield made


@pytest.fixture
def case(desk: Desk) -> str:
    """Return the address of a case nobody has corrected yet."""
    return str(desk.seeded.pop())


def faults_of(page: Page) -> list[str]:
    """Return the grave violations axe finds at both widths."""
    found = []
    for size in (PHONE, DESK):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        results = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
        found += [
            f"{r['id']}: {r['nodes'][0]['html'][:80]}" for r in results if r["impact"] in GRAVE
        ]
    return found


def test_one_press_takes_a_reading_back_and_keeps_the_place(open_page: OpenPage, case: str) -> None:
    page = open_page(case, who="imke")
    page.set_default_timeout(PATIENCE_MS)
    button = page.locator("[id^=read-tried-]")
    name = button.get_attribute("id")
    assert page.get_attribute("#said", "aria-live") == "polite"

    button.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(f"#{name}[value=right]")

    assert "Misread: Tried: " in page.inner_text("#said")
    assert "overruled since" in page.inner_text("#case-readings")
    page.wait_for_function(f"document.activeElement.id === '{name}'")
    page.keyboard.press("Enter")
    page.wait_for_selector(f"#{name}[value=wrong]")
    assert "Read rightly: Tried: " in page.inner_text("#said")
    assert "overruled since" not in page.inner_text("#case-readings")


def test_words_marked_in_the_report_are_noted_and_taken_back(
    open_page: OpenPage, case: str
) -> None:
    page = open_page(case, who="imke")
    page.set_default_timeout(PATIENCE_MS)
    page.evaluate(MARK, "like a hedgehog")
    page.click("#note-words-open")
    assert page.input_value("#note-words") == "like a hedgehog"
    assert faults_of(page) == []

    page.fill("#note-finding", "strings-between-parts")
    page.click("#note-present")
    page.wait_for_selector("#noted-strings-between-parts")

    assert "noted by us" in page.inner_text("#case-readings")
    assert "Noted in their words" in page.inner_text("#said")
    page.wait_for_function("document.activeElement.id === 'note-words-open'")
    assert faults_of(page) == []
    page.click("#noted-strings-between-parts")
    page.locator("#noted-strings-between-parts").wait_for(state="detached")


def test_words_that_do_not_stand_there_are_refused_in_place(open_page: OpenPage, case: str) -> None:
    page = open_page(case, who="imke")
    page.set_default_timeout(PATIENCE_MS)
    page.click("#note-words-open")
    page.fill("#note-words", "the moon")
    page.fill("#note-finding", "strings-between-parts")

    page.click("#note-present")
    page.wait_for_selector("#note-words-error")

    assert page.input_value("#note-words") == "the moon"
    assert page.input_value("#note-finding") == "strings-between-parts"
    assert page.evaluate("document.activeElement.id") in ("note-words", "note-present")
    assert faults_of(page) == []


def test_without_script_the_same_buttons_work(browser: Browser, desk: Desk, case: str) -> None:
    context = browser.new_context(base_url=desk.address, java_script_enabled=False)
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    log_in(page, "imke")
    page.goto(case)

    page.click("[id^=read-tried-]")
    assert page.url.endswith("#case-readings")
    assert "overruled since" in page.inner_text("#case-readings")

    page.click("#note-words-open")
    page.fill("#note-words", "like a hedgehog")
    page.fill("#note-finding", "strings-between-parts")
    page.click("#note-present")
    assert "noted by us" in page.inner_text("#case-readings")
    context.close()
