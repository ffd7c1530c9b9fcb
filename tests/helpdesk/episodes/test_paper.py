"""The run sheet as a PDF, read back by another library."""

import io

import pytest
from pypdf import PdfReader

from helpdesk.cases.services import Consent
from helpdesk.episodes import services
from helpdesk.episodes.paper import LACKING, write_pdf
from helpdesk.episodes.selectors import get_run_sheet
from tests.factories import make_case
from tests.helpdesk.episodes.test_shows import START

pytestmark = pytest.mark.django_db
POINTS = "\n".join(["It let go at the third corner, as the picture shows on the left"] * 4)


def read(episode):
    """Return the pages of an episode's PDF as text."""
    pdf = write_pdf(get_run_sheet(episode), show_name="The Salvage Hour")
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def make_show(title="Knocks"):
    """Make an episode of the usual slot."""
    return services.make_episode(
        number=38, title=title, starts_at=START, slot_s=1200, words_per_minute=175
    )


def agreed(name):
    return Consent(may_show_photos=True, credit_kind="name", credit_as=name)


@pytest.mark.parametrize(
    "name",
    ["Zoë Őry-Čapek", "Łucja Żółć", "Ελένη Παπαδάκη", "Ὀδυσσεύς", "Ольга Щербакова", "Їжак Ґалаґан",
     "Nguyễn Thị Hằng", "Ħanżir Ġorġ"],
)  # fmt: skip
def test_names_in_latin_greek_and_cyrillic_letters_are_printed(producer, name):
    episode = make_show()
    services.add_case(episode, make_case(consent=agreed(name), title="A tray"), actor=producer)

    text = " ".join(read(episode))

    assert name in text
    assert LACKING not in text


def test_letters_the_page_lacks_are_boxes_and_it_says_so(producer):
    episode = make_show()
    services.add_case(episode, make_case(consent=agreed("山田"), title="A tray"), actor=producer)

    text = " ".join(read(episode))

    assert "山" not in text
    assert LACKING in text


def test_ten_parts_fit_two_sheets_of_paper(producer):
    episode = make_show()
    for number in range(5):
        case = make_case(consent=agreed("Bettine"), title=f"Tray {number}")
        segment = services.add_case(episode, case, actor=producer)
        services.change_segment(segment, {"talking_points": POINTS, "presenter": "Imke"})

    pages = read(episode)

    assert episode.segments.count() == 10
    assert len(pages) <= 2
    assert all(f"Tray {number}" in " ".join(pages) for number in range(5))
    assert "Run sheet of episode 38, page 1" in pages[0]


def test_text_is_no_markup_and_a_part_longer_than_a_page_goes_on(producer):
    episode = make_show(title="A <b>& B")
    points = "\n".join(f"Point {n} <para> & more of it" for n in range(120))
    services.change_segment(episode.segments.first(), {"slug": "x" * 60, "talking_points": points})

    pages = read(episode)

    assert "A <b>& B" in pages[0]
    assert "Point 119 <para> & more of it" in " ".join(pages)
    assert len(pages) > 1


def test_sheet_without_parts_is_printed():
    episode = make_show()
    episode.segments.all().delete()

    assert "Hard end" in read(episode)[0]
