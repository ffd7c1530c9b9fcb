"""Correcting segments step by step, and undoing it."""

from itertools import pairwise

import pytest

from helpdesk.archive import corrections
from helpdesk.archive.corrections import Told
from helpdesk.archive.errors import CorrectionError, StaleSegmentsError
from helpdesk.archive.models import ArchiveSegment
from helpdesk.archive.services import import_captions
from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.search.spoken import find_spoken
from tests.factories import make_case
from tests.helpdesk.archive.shows import CUES, vtt

pytestmark = pytest.mark.django_db


@pytest.fixture
def show(producer):
    """Return a show of three segments: 0 to 50 s, to 100 s, to the end."""
    found = import_captions(vtt(), number=7, label="7.vtt").show
    while found.segments.count() > 1:
        found = corrections.merge_up(7, found.version, 2, by=producer)
    for second in (50, 100):
        found = corrections.split_at(7, found.version, second=second, by=producer)
    return found


def starts(show):
    return list(show.segments.order_by("position").values_list("start_s", flat=True))


def test_move_start_goes_by_cues_and_marks_both_sides(show, producer):
    ArchiveSegment.objects.update(corrected_at=None)

    corrections.move_start(7, show.version, 2, cues=1, by=producer)

    assert starts(show) == [0, 55, 100]
    corrected = show.segments.filter(corrected_at__isnull=False)
    assert [s.position for s in corrected] == [1, 2]
    assert show.segments.get(position=1).end_s == 55


def test_begin_at_takes_the_nearest_cue(show, producer):
    corrections.begin_at(7, show.version, 3, second=83, by=producer)

    assert starts(show) == [0, 50, 85]


@pytest.mark.parametrize(("place", "second"), [(2, 0), (2, 100), (3, 50), (1, 5), (9, 20)])
def test_begin_at_refuses_what_leaves_a_segment_empty(show, producer, place, second):
    with pytest.raises(CorrectionError):
        corrections.begin_at(7, show.version, place, second=second, by=producer)

    assert starts(show) == [0, 50, 100]
    assert show.changes.first().what == "Split at 1:40"


def test_split_at_refuses_where_a_segment_begins(show, producer):
    with pytest.raises(CorrectionError, match="already"):
        corrections.split_at(7, show.version, second=51, by=producer)


def test_merge_up_keeps_the_words_of_the_one_above(show, producer):
    corrections.tell(7, show.version, 1, Told("intro", "Hello", None), by=producer)

    corrections.merge_up(7, show.version + 1, 2, by=producer)

    first = show.segments.get(position=1)
    assert (first.title, first.end_s) == ("Hello", 100)


def test_tell_links_a_case_and_refuses_one_that_is_not_there(show, producer):
    case = make_case()
    corrections.tell(7, show.version, 2, Told("case", "The box", case.pk), by=producer)

    with pytest.raises(CorrectionError, match="no case"):
        corrections.tell(7, show.version + 1, 2, Told("case", "The box", 999_999), by=producer)

    assert show.segments.get(position=2).case == case


def test_a_change_of_an_old_page_is_refused(show, producer):
    corrections.move_start(7, show.version, 2, cues=1, by=producer)

    with pytest.raises(StaleSegmentsError):
        corrections.move_start(7, show.version, 2, cues=1, by=producer)

    assert starts(show) == [0, 55, 100]


def test_undo_goes_back_step_by_step_to_the_first(show, producer):
    version = show.version
    corrections.move_start(7, version, 2, cues=2, by=producer)
    corrections.merge_up(7, version + 1, 3, by=producer)
    before = list(show.segments.values_list("title", "kind"))

    corrections.undo(7, version + 2)
    assert starts(show) == [0, 60, 100]
    corrections.undo(7, version + 3)
    assert starts(show) == [0, 50, 100]
    assert len(before) == 2
    while show.changes.exists():
        show.refresh_from_db()
        corrections.undo(7, show.version)
    show.refresh_from_db()
    with pytest.raises(CorrectionError, match="nothing"):
        corrections.undo(7, show.version)


def test_undo_brings_back_no_case_that_was_deleted(show, producer):
    case = make_case()
    corrections.tell(7, show.version, 2, Told("case", "The box", case.pk), by=producer)
    corrections.tell(7, show.version + 1, 2, Told("notice", "A note", None), by=producer)
    case.delete()

    corrections.undo(7, show.version + 2)

    segment = show.segments.get(position=2)
    assert (segment.title, segment.case) == ("The box", None)


def test_a_correction_reaches_the_search_and_the_suspected_faults(show, producer):
    corrections.tell(7, show.version, 2, Told("case", "The tall vase", None), by=producer)

    run_due_jobs()

    [hit] = find_spoken('"fine strings"').rows
    assert (hit.title, hit.at.second) == ("The tall vase", 80)
    assert hit.fault == show.segments.get(position=2).suspects[0][0] == "filament-wet"


def test_every_line_stays_in_exactly_one_segment(show, producer):
    for step, place in ((-3, 2), (4, 3), (2, 2)):
        show = corrections.move_start(7, show.version, place, cues=step, by=producer)
        rows = list(show.segments.order_by("position"))

        assert rows[0].first_cue == 0
        assert [r.first_cue for r in rows] == sorted({r.first_cue for r in rows})
        assert rows[-1].first_cue < CUES
        assert all(a.end_s == b.start_s for a, b in pairwise(rows))


def test_tell_refuses_a_case_that_was_erased(show, producer):
    case = make_case()
    Case.objects.filter(pk=case.pk).update(erased_at=clock.now())

    with pytest.raises(CorrectionError, match="There is no case"):
        corrections.tell(7, show.version, 2, Told("case", "A vase", case.pk), by=producer)
