"""No page bars anybody: axe at phone and desk width, contrast in the dark, no sideways scroll."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Error, Page, expect

from tests.journeys.conftest import DESK, PHONE, Desk, log_in, make_desk

pytestmark = pytest.mark.browser
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
GRAVE = {"serious", "critical"}
NARROW = {"width": 320, "height": 640}
# Beside the pages of the matrix: what only some cases look like.
SEED = """
import json
from django.core.management import call_command
from django.urls import reverse
from helpdesk.demo.serving import make_folders
make_folders()
call_command("migrate", verbosity=0, interactive=False)
from helpdesk.cases.services import issue_link
from helpdesk.core.jobs import run_due_jobs
from helpdesk.diagnosis.opinions import ask_second_look, close_opinion, give_opinion
from helpdesk.diagnosis.services import set_verdict
from helpdesk.episodes.services import add_candidate, add_case, mark_out
from helpdesk.review.services import ask_person
from tests.architecture.matrix import MATRIX, PUBLIC
from tests.architecture.world import make_world
from tests.factories import make_case
from tests.helpdesk.supply.makers import ask_by_hand
NO_PAGES = (
    "home", "alive", "search:quick", "search:similar", "episodes:candidate_panel",
    "agreement:case_looks", "people:case_panel", "mailroom:raw", "archive:uploads",
)
world = make_world()
reviewer = world.people["reviewer"]
danger = make_case(story="Smoke came out of the mainboard and the connector is scorched.")
asked = make_case(title="Hair between two cones")
chat = make_case(email="", reply_channel="chat", handle="kiln", handle_where="the chat")
run_due_jobs()
ask_person(asked, ["strings-between-parts"], words="Is the spool old?", actor=reviewer)
set_verdict(chat, ["belt-loose"], actor=reviewer)
give_opinion(chat, ["pulley-loose"], reviewer=world.people["admin"], is_blind=True)
close_opinion(chat, reviewer=world.people["admin"])
ask_second_look(asked, actor=reviewer)
add_candidate(chat, actor=reviewer, why="Everybody has printed this.")
ask_by_hand(world.statement, world.people["producer"])
mark_out(world.episode, actor=world.people["producer"], link="https://stream.marrowlane.example/1")
run_due_jobs()
hurting = add_case(world.other_episode, danger, actor=world.people["producer"])
sheet = world.other_episode.get_absolute_url()
pages = []
for name, row in MATRIX.items():
    if row.get and "photo" not in name and name not in NO_PAGES:
        address = reverse(name, kwargs=dict(row.at(world)))
        pages.append((name, address, "" if row.who == PUBLIC else "admin"))
pages += [
    ("a dangerous case", danger.get_absolute_url(), "reviewer"),
    ("a case with a draft", world.other.get_absolute_url(), "reviewer"),
    ("a case by chat", chat.get_absolute_url(), "producer"),
    ("a page with a question", reverse("intake:track", args=[issue_link(asked)]), ""),
    ("a page with a danger", reverse("intake:track", args=[issue_link(danger)]), ""),
    ("an empty queue", reverse("review:queue") + "?words=quxbury", "reviewer"),
    ("found", reverse("search:search") + "?words=corners", "reviewer"),
    ("nothing found", reverse("search:search") + "?words=quxbury", "reviewer"),
    ("a sheet in the making", world.other_episode.get_absolute_url(), "admin"),
    ("a part with a danger", f"{sheet}/parts/{hurting.pk}", "admin"),
    ("a script with a danger", f"{sheet}/script", "admin"),
    ("cases to choose from", f"{sheet}/choose", "admin"),
    ("a second look", reverse("agreement:second_look", args=[asked.pk]), "admin"),
    ("a missing page", "/no-such-page", ""),
    ("a refused page", reverse("outbox:outbox"), "producer"),
]
print(json.dumps(pages))
"""
Address = tuple[str, str, str]
STORY = "In PLA at 210 C the corners curl up and there are fine hairs between the towers."


@pytest.fixture(scope="module")
def full_desk(
    tmp_path_factory: pytest.TempPathFactory, browser: Browser
) -> Iterator[tuple[Desk, list[Address]]]:
    """Give a desk with something on every page, and its pages."""
    with make_desk(tmp_path_factory.mktemp("full-desk"), SEED) as desk:
        yield desk, [(name, address, who) for name, address, who in desk.seeded]


def test_pages_bar_nobody(browser: Browser, full_desk: tuple[Desk, list[Address]]) -> None:
    """No page has a grave fault at either width, in the light or the dark, or scrolls sideways."""
    desk, pages = full_desk
    assert len(pages) > 30
    faults = []
    for who in sorted({who for _, _, who in pages}):
        context = browser.new_context(base_url=desk.address, reduced_motion="reduce")
        page = context.new_page()
        if who:
            log_in(page, who)
        for name, address, reader in pages:
            if reader == who:
                if not _shows(page, address):
                    continue
                faults += [f"{name} ({address}): {words}" for words in _faults_of(page)]
        context.close()

    assert faults == []


def test_refused_forms_bar_nobody(browser: Browser, full_desk: tuple[Desk, list[Address]]) -> None:
    """Forms that come back with refusals are as sound as fresh ones."""
    desk, _ = full_desk
    faults = []
    for who, address, button in (
        ("", "/report", "p.sending button"),
        ("", "/new-link", "main form button"),
        ("", "/accounts/login", "main form button[type=submit]"),
        ("producer", "/episodes/new", "main form button.main"),
        ("admin", "/learning/1/in-force", "main form button.main"),
    ):
        context = browser.new_context(base_url=desk.address, reduced_motion="reduce")
        page = context.new_page()
        if who:
            log_in(page, who)
        page.goto(address)
        page.evaluate("for (const form of document.forms) form.noValidate = true")
        page.locator(button).first.click()
        page.wait_for_selector("[role=alert]")
        faults += [f"{address}: {words}" for words in _faults_of(page)]
        assert page.title().startswith("Error"), address
        context.close()

    assert faults == []


def _shows(page: Page, address: str) -> bool:
    """Open an address; False when it is a file or a description for programs and no page."""
    try:
        response = page.goto(address)
    except Error as error:
        if "Download is starting" not in error.message:
            raise
        return False
    return response is not None and "html" in response.headers["content-type"]


def test_the_panel_beside_the_story_bars_nobody(
    browser: Browser, full_desk: tuple[Desk, list[Address]]
) -> None:
    """It fills while somebody writes, leaves the focus alone and is used by keys alone."""
    desk, _ = full_desk
    context = browser.new_context(base_url=desk.address, reduced_motion="reduce")
    page = context.new_page()
    page.goto("/report")

    page.get_by_label("Your story").press_sequentially(STORY)
    page.wait_for_selector("#understood [name=not_so]")

    assert page.evaluate("document.activeElement.name") == "story"
    assert page.input_value("[name=story]") == STORY
    assert "Understood: " in page.inner_text("#said")
    assert not page.locator("button[value=understood]").is_visible()
    button = page.locator("#understood [name=not_so]").first
    finding = button.get_attribute("value")
    button.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(f"#understood [name=so][value={finding}]")
    assert page.evaluate("[document.activeElement.name, document.activeElement.value]") == [
        "so",
        finding,
    ]
    first = page.locator("#understood fieldset input").first
    name = first.get_attribute("name")
    first.focus()
    with page.expect_response("**/report/understood"):
        page.keyboard.press("Space")
    expect(page.locator(f"[name={name}][checked]")).to_have_count(1)
    assert page.evaluate("document.activeElement.name") == name
    assert page.url.endswith("/report")
    assert _faults_of(page) == []
    context.close()


def _faults_of(page: Page) -> list[str]:
    """Return what is wrong with the page shown, in words."""
    found = []
    for size in (PHONE, DESK):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        found += [f"{size['width']} px: {words}" for words in _ask_axe(page, "tag", TAGS)]
    page.emulate_media(color_scheme="dark")
    found += [f"in the dark: {words}" for words in _ask_axe(page, "rule", ["color-contrast"])]
    page.emulate_media(color_scheme="light")
    page.set_viewport_size(NARROW)  # type: ignore[arg-type]
    too_wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    if too_wide > 0:
        found.append(f"{too_wide} px wider than {NARROW['width']} px")
    return found


def _ask_axe(page: Page, kind: str, values: list[str]) -> list[str]:
    """Return the grave violations axe finds with these tags or rules."""
    only = {"type": kind, "values": values}
    results = Axe().run(page, options={"runOnly": only, "resultTypes": ["violations"]})
    return [
        f"{rule['id']} at {'; '.join(str(node['target']) for node in rule['nodes'][:3])}"
        for rule in results.response["violations"]
        if rule["impact"] in GRAVE
    ]
