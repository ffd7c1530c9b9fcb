"""One failed print all the way, in a real browser: report, answer, outcome, show."""

from email.message import EmailMessage
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.journeys.conftest import Desk, OpenPage, link_in, text_of

pytestmark = pytest.mark.browser
STORY = (
    "My chess rook shifted sideways at about 43 mm: everything above stands 4 mm to the left. "
    "I heard a loud knock just before. And the connector under the plate looks scorched."
)
MAIL = "bettine@tarnstreet.example"
ASK_TODAY = """
from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.core.jobs import run_rounds
Case.objects.filter(follow_up_on__isnull=False).update(follow_up_on=clock.today())
run_rounds()
"""


def test_print_goes_all_the_way(desk: Desk, open_page: OpenPage, photos: list[Path]) -> None:
    """A report from a phone becomes an answer, an outcome and a part of a show."""
    track_address = _report(open_page, photos)
    receipt = desk.post.wait_for("We have received your report")
    assert link_in(receipt).startswith(f"{desk.address}/t/")
    assert receipt["Auto-Submitted"] == "auto-replied"
    desk.wait_until("SELECT 1 FROM diagnosis_diagnosisrun")
    desk.wait_until("SELECT 1 WHERE 2 = (SELECT count(*) FROM photos_photo WHERE state = 'ready')")

    case_address = _take_and_weigh(desk, open_page)
    answer = _answer(desk, open_page, case_address)
    assert answer["To"] == MAIL

    desk.run(ASK_TODAY)
    question = desk.post.wait_for("How did it go", where="text")
    _tell_outcome(open_page, link_in(question), track_address)
    desk.wait_until("SELECT 1 FROM cases_case WHERE state = 'closed'")

    _make_show(desk, open_page, case_address)
    featured = desk.post.wait_for("Your print was on")
    assert "episode 1" in text_of(featured)
    assert desk.rows("SELECT episode_number FROM cases_appearance") == [(1,)]
    assert len(desk.post.letters) == 4


def _report(open_page: OpenPage, photos: list[Path]) -> str:
    """Fill in the form on a phone; return the address of the private page."""
    page = open_page("/report")
    page.get_by_label("Your story").fill(STORY)
    page.get_by_label("At what height").fill("43")
    page.set_input_files("#photos", photos)
    expect(page.locator("ul.uploads .upload")).to_have_count(2)
    expect(page.get_by_label("What does it show?")).to_have_count(2)
    page.get_by_label("What does it show?").first.fill("A teal rook with a step")
    page.get_by_label("What does it show?").last.fill("A brown plug")
    page.get_by_label("Printer", exact=True).fill("Tern 220")
    page.get_by_label("Material", exact=True).fill("PLA")
    page.get_by_label("Your name").fill("Bettine Halvorsen")
    page.get_by_label("E-mail", exact=True).fill(MAIL)
    page.get_by_label("You may publish your answer").check()
    page.get_by_label("You may show my photos").check()
    page.get_by_label("By name").check()
    page.get_by_label("The name as it should be said aloud").fill("Bettine from Tarn Street")
    page.get_by_label("I am 16 or older").check()
    page.locator("p.sending button").click()
    page.wait_for_url("**/t/*")
    expect(page.locator("main")).to_contain_text("your report is safe with us")
    return page.url.partition("?")[0]


def _take_and_weigh(desk: Desk, open_page: OpenPage) -> str:
    """Take the case from the queue, set a finding with one press, confirm a fault."""
    page = open_page("/queue", who="imke")
    job = page.locator("li.job").first
    expect(job).to_contain_text("Danger")
    job.get_by_role("button", name="Take it").click()
    expect(page.locator("li.job").first).to_contain_text("You have it")
    page.locator("li.job h3 a").first.click()
    expect(page.locator("h1")).to_contain_text("My chess rook shifted")
    expect(page.locator("#look img").first).to_be_visible()

    before = page.locator("#weigh .suspects").inner_text()
    finding = page.locator(".findings fieldset").filter(has_text="nobody has said").first
    finding.get_by_text("present", exact=True).click()
    expect(page.locator("#weigh .suspects")).not_to_have_text(before, use_inner_text=True)
    expect(page.locator("#said")).to_contain_text(": present")
    assert desk.rows("SELECT state, source FROM diagnosis_findingmark") == [("present", "reviewer")]

    confirm = page.locator(".suspects button").first
    name = page.locator(".suspects h3").first.inner_text()
    confirm.click()
    expect(page.locator("#verdict + ol")).to_contain_text(name)
    return page.url


def _answer(desk: Desk, open_page: OpenPage, case_address: str) -> EmailMessage:
    """Draft the answer, read it, send it; return the letter as it arrived."""
    page = open_page(case_address, who="imke")
    page.locator("#answer-start").click()
    expect(page.locator("#answer-body")).to_be_visible()
    page.get_by_label("Ask how it went after this many days").fill("14")
    page.locator("#answer-send").click()
    expect(page.locator("#answer-panel")).to_contain_text("Sent by e-mail")
    letter = desk.post.wait_for("Our answer about your print")
    text = text_of(letter)
    caution, greeting = text.index("unplug"), text.index("Hello Bettine")
    assert caution < greeting, "the caution stands at the top"
    assert "licensed electrician" in text
    assert "Why it happens:" in text
    assert link_in(letter).startswith(f"{desk.address}/t/")
    assert "Auto-Submitted" not in letter
    return letter


def _tell_outcome(open_page: OpenPage, address: str, known_address: str) -> None:
    """Open the link of the letter on a phone and say that it worked."""
    assert address != known_address
    page = open_page(address)
    expect(page.locator("main")).to_contain_text("Our answer")
    expect(page.locator("main")).not_to_contain_text("{private_link}")
    page.get_by_text("Tell us more about it").click()
    page.get_by_label("It worked").check()
    page.get_by_label("What happened, in your words?").fill("Slower, and a new plug. Lovely.")
    page.get_by_role("button", name="Tell us how it went").click()
    expect(page.locator("main")).to_contain_text("Thank you for telling us how it went")


def _make_show(desk: Desk, open_page: OpenPage, case_address: str) -> None:
    """Mark the case, make an episode, order its parts and mark it as out."""
    page = open_page(case_address, who="wren")
    page.locator("#candidate-panel").scroll_into_view_if_needed()
    page.get_by_label("What would others learn from it?").fill("A step has a cause")
    page.get_by_role("button", name="Mark for the show").click()
    expect(page.locator("#candidate-panel")).to_contain_text("Marked for the show by Wren")

    page.goto("/episodes/new")
    page.get_by_label("Title").fill("Steps and plugs")
    page.get_by_role("button", name="Keep").click()
    page.wait_for_url("**/episodes/1")
    page.get_by_role("button", name="Put on the sheet").click()
    expect(page.locator("#sheet tbody")).to_contain_text("My chess rook")

    row = page.locator("#sheet tbody tr").filter(has_text="My chess rook")
    expect(row).to_have_attribute("data-place", "3")
    row.locator("a.slug").focus()
    page.keyboard.press("Alt+ArrowDown")
    expect(row).to_have_attribute("data-place", "4")
    expect(page.locator("#said")).to_contain_text("moved to 4 of 6")
    _expect_focus_in(page, row.get_attribute("data-part"))
    row.get_by_role("button", name="up", exact=False).click()
    expect(row).to_have_attribute("data-place", "3")
    expect(page.locator("#said")).to_contain_text("moved to 3 of 6")
    _expect_focus_in(page, row.get_attribute("data-part"))
    row.get_by_role("button", name="down", exact=False).click()
    expect(row).to_have_attribute("data-place", "4")
    order = desk.rows("SELECT position FROM episodes_segment WHERE case_id IS NOT NULL")
    assert order == [(4,)]

    page.get_by_role("link", name="Mark as out").click()
    expect(page.locator("main")).to_contain_text("Bettine from Tarn Street")
    page.get_by_label("Link to the recording").fill("https://stream.marrowlane.example/1")
    page.get_by_role("button", name="Mark as out").click()
    expect(page.locator("main")).to_contain_text("Episode 1 is out")


def _expect_focus_in(page: Page, part: str | None) -> None:
    """Fail unless the focus is on the row of a part."""
    expect(page.locator(f"#sheet tr[data-part='{part}'] :focus")).to_have_count(1)
