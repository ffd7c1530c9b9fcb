"""A table is brought in through the pages, with the worker doing the work."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.journeys.conftest import DESK, PHONE, Desk, OpenPage

pytestmark = pytest.mark.browser
GRAVE = {"serious", "critical"}
TABLE = """When;What;Who
03/04/2025;The corners lift off the plate.;Ansa
25/04/2025;A seam as thick as a nail.;Teo
soon;Whiskers everywhere.;Bettine
"""


def assert_bars_nobody(page: Page) -> None:
    """Check a page with axe at both widths."""
    for size in (PHONE, DESK):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
        grave = [f"{r['id']}: {r['nodes'][0]['html']}" for r in found if r["impact"] in GRAVE]
        assert grave == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("has_script", [True, False])
def test_table_is_looked_at_and_brought_in(
    open_page: OpenPage, desk: Desk, tmp_path: Path, has_script: bool
) -> None:
    path = tmp_path / f"old-{has_script}.csv"
    path.write_text(TABLE.replace("plate", f"plate {has_script}"), encoding="utf-8")
    page = open_page("/capture/table", who="imke", java_script_enabled=has_script)
    if has_script:
        assert_bars_nobody(page)
    page.set_input_files("[name=table]", path)
    page.get_by_role("button", name="Look at the table").click()
    page.get_by_label("Who", exact=True).select_option("person_name")
    page.get_by_label("When", exact=True).select_option("opened_at")
    page.get_by_label("What", exact=True).select_option("story")
    page.get_by_role("button", name="See what would happen").click()
    expect(page.get_by_text("begin with the day")).to_be_visible()
    expect(page.get_by_text("1 refused")).to_be_visible()
    if has_script:
        assert_bars_nobody(page)
    page.get_by_role("button", name="Bring in").click()
    page.wait_for_selector("#progress")
    desk.wait_until(
        "SELECT id FROM capture_tableimport WHERE label = ? AND state = 'done'", path.name
    )
    if not has_script:
        page.reload()

    expect(page.get_by_text("Done.")).to_be_visible(timeout=15_000)
    expect(page.get_by_role("link", name="Download the refused rows")).to_be_visible()
    if has_script:
        assert_bars_nobody(page)
    words = f"The corners lift off the plate {has_script}."
    assert desk.rows(
        "SELECT date(c.opened_at), c.person_name FROM cases_case c"
        " JOIN cases_report r ON r.case_id = c.id WHERE r.story = ?",
        words,
    ) == [("2025-04-03", "Ansa")]
