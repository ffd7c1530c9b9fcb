"""One show from the week's cases to the archive, in a real browser.

The producer has the best set chosen and put on the run sheet, prints it, presents the show with its
clocks and marks, changes the order late, loses a case that is withdrawn on air, marks the show as
out, takes its chapters, brings its captions in and finds a sentence to the second.
"""

import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import webvtt
from playwright.sync_api import Browser, Page, expect

from tests.journeys.conftest import SEED, Desk, OpenPage, make_desk

pytestmark = pytest.mark.browser
NUMBER = 38
CLOCK = re.compile(r"\d+:\d\d")
SAID = "the little grub screw had worked itself loose"
SET_UP = """
import json
from django.core.files.base import ContentFile
from fixtures_demo.render import photo_bytes
from helpdesk.cases.services import Consent
from helpdesk.core.jobs import run_due_jobs
from helpdesk.episodes.models import Segment
from helpdesk.photos.services import prepare_photo, receive_photo
from helpdesk.presenting.models import PictureMark
from tests.helpdesk.choosing.desk import make_show, make_showable
numbers = []
people = {
    "pulley-loose": "Alwin Quill", "filament-wet": "Berit Marsh", "plate-not-clean": "Falk Wold"
}
for place, (fault, person) in enumerate(people.items()):
    agreed = Consent(may_show_photos=True, credit_kind="name", credit_as=person)
    case = make_showable(fault, person_name=person, consent=agreed, is_cured=place == 0)
    picture = photo_bytes("layer-shift", seed=place + 1, view="whole")
    photo = receive_photo(
        ContentFile(picture, name="print.jpg"), label="print.jpg", case=case, alt_text="A print."
    )
    prepare_photo(photo.pk)
    PictureMark.objects.create(
        photo=photo, position=1, shape="ring", x1_pct=30, y1_pct=30, x2_pct=60, y2_pct=60,
        words="Here the layers stepped sideways",
    )
    numbers.append(case.pk)
make_show(number=38)
print(json.dumps(numbers))
"""


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> Iterator[Desk]:
    """Give a desk with three cases that may be shown and an episode in the making."""
    with make_desk(tmp_path_factory.mktemp("show"), SEED + SET_UP) as made:
        yield made


def test_show_goes_from_the_cases_of_the_week_into_the_archive(
    desk: Desk, open_page: OpenPage, tmp_path: Path
) -> None:
    page = open_page(f"/episodes/{NUMBER}/choose", who="wren")
    _choose(page)
    _print(page, tmp_path)
    shown, withdrawn = _present(desk, page)
    _mark_out(desk, page, shown, withdrawn)
    chapters = _take_chapters(page)
    _bring_in_captions(page, tmp_path, chapters)
    _find_sentence(page)


def _choose(page: Page) -> None:
    """Put the best set on the run sheet."""
    expect(page.get_by_text("Proven optimal")).to_be_visible()
    page.get_by_role("button", name="Put these on the run sheet").click()
    page.wait_for_url(f"**/episodes/{NUMBER}*")
    page.goto(f"/episodes/{NUMBER}")
    assert page.locator("#sheet tbody tr td:nth-child(2)", has_text="Case").count() == 3


def _print(page: Page, folder: Path) -> None:
    """Look at the sheet for paper, and take it as a PDF and as a table."""
    page.goto(f"/episodes/{NUMBER}/paper")
    expect(page.locator("table").first).to_be_visible()
    context = page.context.request
    pdf = context.get(f"/episodes/{NUMBER}/pdf")
    assert pdf.body().startswith(b"%PDF-")
    table = context.get(f"/episodes/{NUMBER}/table")
    assert table.text().count("\n") >= 8


def _present(desk: Desk, page: Page) -> tuple[list[int], int]:
    """Present the show; return the cases that were shown, and the one withdrawn on air."""
    page.goto(f"/episodes/{NUMBER}/present")
    page.get_by_role("button", name="On air", exact=True).click()
    clock = page.locator("[data-at=part-clock]")
    expect(clock).to_have_text(CLOCK)
    first = clock.inner_text()
    expect(clock).not_to_have_text(first)
    _start_next(desk, page, 2)  # the greeting
    _start_next(desk, page, 3)  # the first case
    page.keyboard.press("PageDown")
    expect(page.locator("[data-at=step]")).not_to_be_empty()
    order = desk.rows(
        "select id, case_id from episodes_segment where case_id is not null order by position"
    )
    page.get_by_role("button", name="Change order").click()
    page.locator(f"#down-{order[1][0]}").click()
    page.get_by_role("button", name="Done").click()
    desk.wait_until(
        "select 1 from episodes_segment where id = ? and position > "
        "(select position from episodes_segment where id = ?)",
        order[1][0],
        order[2][0],
    )
    gone = order[1][1]
    _start_next(desk, page, 4)
    _start_next(desk, page, 5)
    expect(page.locator("[data-at=shot] img")).to_be_visible()
    desk.run(
        "from helpdesk.cases.models import Case\n"
        "from helpdesk.cases.services import Consent, record_consent\n"
        f"record_consent(Case.objects.get(pk={gone}), Consent(), given_by='the person')"
    )
    expect(page.locator("[data-at=stop]")).to_contain_text("Do not show", timeout=40_000)
    assert page.locator("[data-at=shot] img:visible").count() == 0
    for place in range(6, 9):
        _start_next(desk, page, place)
    page.get_by_role("button", name="Off air", exact=True).click()
    page.get_by_role("button", name="Yes, off air").click()
    desk.wait_until("select 1 from episodes_episode where off_air_at is not null")
    return [order[0][1], order[2][1]], gone


def _start_next(desk: Desk, page: Page, place: int) -> None:
    """Start the next part, and wait until the desk has its start."""
    page.get_by_role("button", name="Start next part").click()
    expect(page.locator("[data-at=place]")).to_have_text(str(place))
    desk.wait_until(
        "select episode_id from episodes_segment where started_at is not null "
        "group by episode_id having count(*) >= ?",
        place,
    )


def _mark_out(desk: Desk, page: Page, shown: list[int], gone: int) -> None:
    """Take the withdrawn part off and mark the show as out; who was shown is told, once."""
    page.goto(f"/episodes/{NUMBER}/out")
    page.fill("[name=link]", "https://video.marrowlane.example/38")
    page.get_by_role("button", name="Mark as out").click()
    expect(page.get_by_role("alert")).to_contain_text("took back")
    desk.run(
        "from helpdesk.episodes.models import Segment\n"
        "from helpdesk.episodes.services import remove_segment\n"
        f"remove_segment(Segment.objects.get(case={gone}))"
    )
    page.goto(f"/episodes/{NUMBER}/out")
    page.fill("[name=link]", "https://video.marrowlane.example/38")
    page.get_by_role("button", name="Mark as out").click()
    page.wait_for_url(f"**/episodes/{NUMBER}")
    told = {row[0] for row in desk.rows("select case_id from cases_appearance")}
    assert told == set(shown)


def _take_chapters(page: Page) -> list[dict[str, Any]]:
    """Give the show twenty minutes and take its chapters in both forms."""
    request = page.context.request
    vtt = request.get(f"/episodes/{NUMBER}/after/chapters.vtt")
    assert vtt.ok, vtt.status
    assert len(webvtt.from_buffer(io.BytesIO(vtt.body())).captions) >= 3
    found = request.get(f"/episodes/{NUMBER}/after/chapters.json")
    assert found.headers["content-type"].startswith("application/json+chapters")
    chapters = json.loads(found.body())
    assert chapters["version"].startswith("1.2")
    starts = [chapter["startTime"] for chapter in chapters["chapters"]]
    assert starts == sorted(starts)
    assert starts[0] == 0
    return list(chapters["chapters"])


def _bring_in_captions(page: Page, folder: Path, chapters: list[dict[str, Any]]) -> None:
    """Bring in captions that hold a sentence at a known second."""
    lines = ["WEBVTT", ""]
    words = ["Good evening and welcome back.", "Our first print stepped sideways at one height."]
    words += [f"We looked at it for a while, that was minute {n}." for n in range(20)]
    words[9] = f"And there it was, {SAID}."
    for n, line in enumerate(words):
        lines += [f"00:00:{n * 2:02}.000 --> 00:00:{n * 2 + 2:02}.000", line, ""]
    path = folder / f"episode-{NUMBER}.vtt"
    path.write_text("\n".join(lines))
    page.goto("/archive")
    page.set_input_files("[name=captions]", path)
    page.get_by_role("button", name="Bring in").click()
    page.wait_for_load_state()


def _find_sentence(page: Page) -> None:
    """Find the sentence at its second: the tenth cue begins at 18 seconds."""
    for _ in range(20):
        page.goto("/search?words=%22grub+screw%22+loose")
        if page.get_by_text("Said on the show").count():
            break
        page.wait_for_timeout(500)
    hit = page.locator("section", has_text="Said on the show").locator("li").first
    expect(hit).to_contain_text(f"Episode {NUMBER}")
    expect(hit).to_contain_text("0:18")
