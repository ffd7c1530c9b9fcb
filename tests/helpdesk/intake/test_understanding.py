"""The panel beside the story: what is understood, what its writer says of it, and what is kept."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case, Report
from helpdesk.cases.services import Consent
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.core.models import Job
from helpdesk.diagnosis.engine import preview_text
from helpdesk.diagnosis.models import DiagnosisRun, FindingMark, MarkSource, ReadingCorrection
from helpdesk.diagnosis.selectors import get_view, list_corrections
from helpdesk.diagnosis.services import mark_finding
from helpdesk.intake.services import erase
from helpdesk.search.selectors import find_public_similar
from tests.factories import make_case
from tests.helpdesk.intake.forms_data import report_data

pytestmark = pytest.mark.django_db
REPORT, LOOK = "/report", "/report/understood"
STORY = (
    "Printed in PLA at 210 C. The corners lifted from the bed and there are fine hairs between the "
    "towers. I dried the spool and nothing changed."
)


def look(client: Client, **data: Any) -> str:
    """Return the panel for a form."""
    response = client.post(LOOK, {"story": STORY} | data)
    assert response.status_code == 200
    return response.content.decode()


def test_panel_shows_signs_with_their_words_settings_and_what_was_tried(client: Client) -> None:
    panel = look(client)

    assert panel.count('id="understood"') == 1
    assert "<html" not in panel
    assert "Corners have lifted from the plate" in panel
    assert re.search(r"<q[^>]*>corners lifted", panel)
    assert "210 °C" in panel
    assert "PLA" in panel
    assert re.search(r"<dt>Tried</dt>\s*<dd>\s*Dry", panel)
    assert 'name="not_so"' in panel
    assert 1 <= panel.count("<fieldset") <= 3


def test_looking_keeps_nothing(client: Client) -> None:
    look(client, **{"seen-popping-sounds": "present", "not_so": "corners-lifted"})

    for model in (Case, Report, DiagnosisRun, FindingMark, ReadingCorrection, Job):
        assert not model.objects.exists()


@pytest.mark.parametrize("story", ["", "pls help", "It is a dragon for my niece."])
def test_words_that_tell_little_get_honest_words(client: Client, story: str) -> None:
    assert "We could not tell much from this yet" in look(client, story=story)


def test_words_are_escaped(client: Client) -> None:
    story = "The corners lifted <script>alert(1)</script> from the bed <b>badly</b>"
    panel = look(client, story=story, machine="<i>x")

    assert "<script" not in panel
    assert "<b>" not in panel


def test_not_so_takes_a_sign_out_and_so_brings_it_back(client: Client) -> None:
    without = look(client, not_so="corners-lifted")
    with_again = look(client, withdrawn="corners-lifted", so="corners-lifted")

    assert re.search(r"<s>Corners have lifted", without)
    assert 'name="withdrawn" value="corners-lifted"' in " ".join(without.split())
    assert "<s>" not in with_again
    assert "<strong>Corners have lifted" in with_again


def test_an_answer_counts_stays_and_leaves_room_for_fewer_questions() -> None:
    first = preview_text(STORY).details[0].finding

    after = preview_text(STORY, said={first: True})
    unknown = preview_text(STORY, settled=[first])

    assert first not in [detail.finding for detail in after.details]
    assert first not in [detail.finding for detail in unknown.details]


def test_answers_stand_checked_and_three_details_at_most_are_shown(client: Client) -> None:
    first = preview_text(STORY).details[0].finding

    panel = look(client, **{f"seen-{first}": "absent"})

    assert panel.count("<fieldset") <= 3
    chosen = re.search(rf'name="seen-{first}"\s+value="absent"[^>]*checked', panel)
    assert chosen


def test_unknown_ids_are_passed_over(client: Client) -> None:
    panel = look(
        client, withdrawn=["no-such", "corners-lifted"], **{"seen-no-such": "present", "so": "x"}
    )

    assert "no-such" not in panel


def test_another_language_is_named_and_not_read(client: Client) -> None:
    story = "Die Ecken meiner Schachtel lösen sich nach einer Stunde vom Druckbett, spaghetti."
    panel = look(client, story=story)

    assert "written in German" in panel
    assert "not_so" not in panel


def test_a_part_in_another_language_is_named_and_the_rest_is_read(client: Client) -> None:
    """The German "warping" below is denied, which no English rule would see."""
    story = (
        "The layers have shifted to the left at 40 mm.\n\n"
        "Warping habe ich beim Drucken bisher zum Glück noch nie gesehen, danke schön."
    )

    page = look(client, story=story)

    assert "A part of this seems to be written in German" in page
    assert 'value="layers-shifted"' in page
    assert 'value="corners-lifted"' not in page


def test_looks_are_limited_and_the_form_goes_on(client: Client, settings: Any) -> None:
    settings.LIMITS = settings.LIMITS | {"previews": 1}
    look(client)

    response = client.post(LOOK, {"story": STORY})
    form = client.post(REPORT, report_data(story=STORY, do="understood", withdrawn="gaps-in-top"))
    sent = client.post(REPORT, report_data(story=STORY))

    assert response.status_code == 429
    assert int(response["Retry-After"]) > 0
    assert "We have looked very often" in form.content.decode()
    assert sent.status_code == 302


def test_without_script_a_button_shows_the_panel_and_sends_nothing(client: Client) -> None:
    """Every word is still in the form, and a box that was ticked as well."""
    data = report_data(story=STORY, may_show_photos="on", do="understood")
    page = client.post(REPORT, data).content.decode()
    withdrawn = client.post(REPORT, data | {"do": "", "not_so": "corners-lifted"})

    assert "Corners have lifted from the plate" in page
    assert STORY in page
    assert "Bettine Halvorsen" in page
    assert re.search(r"<s>Corners have lifted", withdrawn.content.decode())
    assert not Case.objects.exists()


def test_a_new_form_says_what_the_panel_is_for(client: Client) -> None:
    page = client.get(REPORT).content.decode()

    assert "Nothing is kept until you send your report" in page
    assert "Show what we understood" in page


def test_a_refused_form_keeps_answers(client: Client) -> None:
    first = preview_text(STORY).details[0].finding
    data = report_data(story=STORY, email="", **{f"seen-{first}": "present"})

    response = client.post(REPORT, data)

    assert response.status_code == 422
    assert re.search(
        rf'name="seen-{first}"\s+value="present"[^>]*checked', response.content.decode()
    )


def test_what_the_writer_says_is_sent_with_the_report(client: Client) -> None:
    first, second = (d.finding for d in preview_text(STORY, process="MEX").details[:2])
    data = report_data(
        story=STORY,
        withdrawn="corners-lifted",
        **{f"seen-{first}": "present", f"seen-{second}": "unknown"},
    )

    client.post(REPORT, data)

    case = Case.objects.get()
    marks = {m.finding: (m.state, m.source) for m in case.finding_marks.all()}
    assert marks == {
        "corners-lifted": ("unknown", MarkSource.MISREAD),
        first: ("present", MarkSource.PERSON),
        second: ("unknown", MarkSource.PERSON),
    }
    view = get_view(case)
    assert view is not None
    states = {f.id: f.state for f in view.findings}
    assert states["corners-lifted"] == "unknown"
    assert states[first] == "present"
    assert second not in [q.finding for q in view.questions]
    correction = list_corrections().get()
    assert (correction.name, correction.is_right, correction.said_by) == (
        "corners-lifted",
        False,
        None,
    )
    assert STORY[correction.start : correction.end] == correction.quote


def test_what_a_reviewer_set_stays_when_the_form_comes_again(
    client: Client, reviewer: User
) -> None:
    client.post(REPORT, report_data(story=STORY))
    case = Case.objects.get()
    mark_finding(case, "corners-lifted", "present", actor=reviewer)

    client.post(
        REPORT, report_data(story=STORY, withdrawn=["corners-lifted", "strings-between-parts"])
    )
    run_due_jobs()

    marks = {m.finding: m.source for m in case.finding_marks.all()}
    assert marks == {
        "corners-lifted": MarkSource.REVIEWER,
        "strings-between-parts": MarkSource.MISREAD,
    }
    view = get_view(case)
    assert view is not None
    assert {f.id: f.state for f in view.findings}["strings-between-parts"] == "unknown"


def test_erasing_takes_the_words_out_of_corrections(client: Client) -> None:
    client.post(REPORT, report_data(story=STORY, withdrawn="corners-lifted"))

    erase(Case.objects.get().pk)

    kept = ReadingCorrection.objects.get()
    assert (kept.quote, kept.start, kept.end) == ("", None, None)
    assert not list_corrections().exists()


def test_similar_answers_are_public_ones_whose_published_words_fit(client: Client) -> None:
    """A private story that fits does not bring up an answer whose published words do not."""
    public = _answered("Corners lift", "Corners lifted from the plate, hairs between towers.")
    _answered("A slack belt", "Layers moved over; tighten it.")
    hidden = _answered("Corners again", "Corners lifted, hairs between towers.")
    Case.objects.filter(pk=hidden.case_id).update(may_publish_answer=False)
    run_due_jobs()

    assert find_public_similar(STORY) == [public]
    panel = look(client)
    assert reverse("answers:published", args=[public.pk]) in panel
    assert "Is it this?" in panel
    assert "A slack belt" not in panel
    assert find_public_similar("") == []


def _answered(title: str, body: str) -> Answer:
    """Return a published answer to a case whose private story is always the same."""
    case = make_case(story=STORY, consent=Consent(may_publish_answer=True))
    now = clock.now()
    return Answer.objects.create(
        case=case,
        body=body,
        edited_at=now,
        sent_at=now,
        sent_text=body,
        published_at=now,
        published_title=title,
        published_body=body,
    )
