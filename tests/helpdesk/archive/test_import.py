"""Captions into the archive: once, replaced, refused, along a run sheet."""

import datetime
from itertools import pairwise

import pytest
from django.db.models import F

from helpdesk.archive import corrections, services
from helpdesk.archive.errors import CaptionsRefusedError
from helpdesk.archive.models import ArchivedShow, CaptionUpload, UploadState
from helpdesk.archive.services import (
    ShowFacts,
    import_captions,
    receive_upload,
    take_upload,
)
from helpdesk.cases.models import Appearance
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.episodes.models import Segment
from helpdesk.episodes.services import add_case, make_episode
from helpdesk.search.models import SpokenPassage
from helpdesk.search.spoken import find_spoken
from tests.factories import make_case, make_user
from tests.helpdesk.archive.shows import CUE_S, CUES, lines, vtt

pytestmark = pytest.mark.django_db


def bring(raw=None, number=7, **facts):
    return import_captions(
        raw or vtt(), number=number, label=f"{number}.vtt", facts=ShowFacts(**facts)
    )


def spans(show):
    return list(show.segments.order_by("position").values_list("start_s", "end_s"))


def test_import_captions_covers_the_show_without_gaps():
    done = bring()

    found = spans(done.show)
    assert done.what == "new"
    assert found[0][0] == 0.0
    assert all(end == start for (_, end), (start, _) in pairwise(found))
    assert found[-1][1] == pytest.approx((CUES - 1) * CUE_S + 4.8)
    assert done.show.captions.cue_count == CUES


def test_import_captions_again_changes_nothing():
    first = bring()
    before = list(SpokenPassage.objects.values_list("pk", flat=True))

    again = bring()

    assert again.what == "unchanged"
    assert list(SpokenPassage.objects.values_list("pk", flat=True)) == before
    assert spans(again.show) == spans(first.show)


def test_import_captions_again_keeps_new_facts_of_the_show():
    bring()

    again = bring(title="Corners", link="https://stream.marrowlane.example/7")

    assert again.what == "unchanged"
    assert ArchivedShow.objects.get(number=7).title == "Corners"
    [hit] = find_spoken("goodbye").rows
    assert hit.at.address == "https://stream.marrowlane.example/7#t=140"


def test_import_captions_takes_title_date_and_link_of_a_known_episode():
    episode = make_episode(
        number=7, title="Plates", starts_at=clock.now(), slot_s=1200, words_per_minute=165
    )

    show = bring().show

    assert show.title == "Plates"
    assert show.on_date == episode.starts_at.date()


def test_import_captions_follows_the_run_sheet_and_names_its_cases():
    producer = make_user("wren", role="producer")
    episode = make_episode(
        number=7, title="Plates", starts_at=clock.now(), slot_s=1200, words_per_minute=165
    )
    box = make_case(title="Box with lifted corners", story="The corners of my box lift, the plate")
    vase = make_case(title="Tall vase with strings", story="Fine strings on a vase, wet filament")
    began = clock.now()
    episode.on_air_at = began
    episode.save()
    for case, start_s in ((box, 10), (vase, 70)):
        part = add_case(episode, case, actor=producer)
        Segment.objects.filter(pk=part.pk).update(
            started_at=began + datetime.timedelta(seconds=start_s)
        )

    show = bring().show

    found = {s.case_id: s for s in show.segments.filter(case__isnull=False)}
    assert found.keys() == {box.pk, vase.pk}
    assert found[box.pk].start_s == pytest.approx(10, abs=CUE_S)
    assert found[vase.pk].start_s == pytest.approx(70, abs=CUE_S)
    assert found[vase.pk].title == Segment.objects.get(case=vase).slug
    assert found[vase.pk].suspects[0][0] == "filament-wet"


def test_import_captions_looks_for_cases_where_they_are_known_to_have_been_shown():
    vase = make_case(title="Tall vase with strings", story="Fine strings on a vase, wet filament")
    Appearance.objects.create(
        case=vase,
        episode_number=7,
        episode_title="Plates",
        starts_at_s=70,
        on_date=clock.today(),
    )

    show = bring().show

    segment = show.segments.get(case=vase)
    assert segment.start_s == pytest.approx(70, abs=CUE_S)
    assert segment.title == "Tall vase with strings"


def test_import_captions_puts_no_case_at_the_end_that_was_shown_later():
    vase = make_case(title="Tall vase with strings", story="Fine strings on a vase, wet filament")
    Appearance.objects.create(
        case=vase,
        episode_number=7,
        episode_title="Plates",
        starts_at_s=900,
        on_date=clock.today(),
    )

    assert not bring().show.segments.filter(case=vase).exists()


def test_import_captions_keeps_corrections_when_a_new_version_comes(producer):
    show = bring().show
    show = corrections.split_at(7, show.version, second=70, by=producer)
    place = show.segments.get(start_s=70).position
    told = corrections.Told("case", "The tall vase", None)
    corrections.tell(7, show.version, place, told, by=producer)

    done = bring(vtt(lines(shift_s=2.0, changed={3: "Here it is, from the side."})))

    assert done.what == "replaced"
    kept = done.show.segments.get(start_s=72)
    assert (kept.kind, kept.title) == ("case", "The tall vase")
    assert kept.corrected_by == producer


def test_import_captions_keeps_what_was_found_right_but_not_that_all_of_it_is(producer):
    show = bring().show
    show = corrections.confirm(7, show.version, by=producer)
    before = list(show.segments.order_by("position").values_list("start_s", "kind", "title"))

    done = bring(vtt(lines(changed={16: "Quite another thing is said here."})))

    done.show.refresh_from_db()
    after = list(done.show.segments.order_by("position").values_list("start_s", "kind", "title"))
    assert after == before
    assert (done.show.checked_at, done.show.checked_by) == (None, None)
    assert {segment.corrected_by for segment in done.show.segments.all()} == {producer}


def test_import_captions_lets_go_of_corrections_whose_words_are_gone(producer):
    show = bring().show
    corrections.split_at(7, show.version, second=70, by=producer)

    done = bring(vtt([(s + 600, f"New words, line {n}") for n, (s, _) in enumerate(lines())]))

    assert not done.show.segments.filter(start_s=70).exists()
    assert spans(done.show)[0][0] == 600


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"", "empty"),
        (b"\x00\x01\x02\xff" * 400, "text"),
        (b"WEBVTT\n\n", "no cue"),
        (b"Dear desk, here are the captions.", "no cue"),
    ],
)
def test_import_captions_refuses_files_without_captions(raw, why):
    with pytest.raises(CaptionsRefusedError, match=why):
        import_captions(raw, number=7, label="7.vtt")

    assert not ArchivedShow.objects.exists()


@pytest.mark.parametrize("number", [0, -1, 1_000_000])
def test_import_captions_refuses_numbers_no_episode_has(number):
    with pytest.raises(CaptionsRefusedError, match="number"):
        bring(number=number)


def test_import_captions_refuses_a_link_that_is_no_web_address():
    with pytest.raises(CaptionsRefusedError, match="no address"):
        bring(link="javascript:alert(1)")


def test_import_captions_refuses_a_huge_file(monkeypatch):
    monkeypatch.setattr(services, "MAX_BYTES", 100)

    with pytest.raises(CaptionsRefusedError, match="at most"):
        bring()


def test_import_captions_refuses_200_000_cues_with_the_limit():
    cues = [(n * 0.02, f"Line {n} of it.") for n in range(200_000)]

    with pytest.raises(CaptionsRefusedError, match="200000 cues; one show may have 20000"):
        bring(vtt(cues))

    assert not ArchivedShow.objects.exists()


def test_import_captions_takes_one_cue():
    show = bring(vtt([(3.0, "The corners lift.")])).show

    assert spans(show) == [(3.0, pytest.approx(7.8))]


def test_import_captions_mends_times_and_says_so():
    raw = (
        b"1\n00:00:09,000 --> 00:00:07,000\nThe plate is greasy.\n\n"
        b"2\n00:00:01,000 --> 00:00:08,000\nWelcome to the show.\n\n"
        b"3\n-00:00:05,000 --> 00:00:00,500\nHello.\n\n"
    )

    show = bring(raw).show

    words = [cue[2] for cue in show.captions.cues]
    assert words == ["Hello.", "Welcome to the show.", "The plate is greasy."]
    assert all(0 <= start < end for start, end, *_ in show.captions.cues)
    assert show.captions.remarks


def test_import_captions_reads_latin_1():
    show = bring("1\n00:00:01,000 --> 00:00:03,000\nCafé crème.\n".encode("latin-1")).show

    assert show.captions.cues[0][2] == "Café crème."


def test_import_captions_leaves_nothing_of_an_import_that_fails(monkeypatch):
    def fail(show):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(services, "index_archived", fail)

    with pytest.raises(RuntimeError):
        bring()

    assert not ArchivedShow.objects.exists()
    assert not SpokenPassage.objects.exists()


def test_receive_upload_is_read_in_the_background():
    upload = receive_upload(vtt(), label="episode 7.vtt")

    run_due_jobs()

    upload.refresh_from_db()
    assert upload.state == UploadState.DONE
    assert upload.raw is None
    assert ArchivedShow.objects.filter(number=7).exists()


def test_receive_upload_says_why_it_was_refused():
    unnamed = receive_upload(vtt(), label="captions.vtt")
    empty = receive_upload(b"", label="8.vtt")
    take_upload(empty.pk)

    assert unnamed.state == UploadState.REFUSED
    assert "number" in unnamed.why
    empty.refresh_from_db()
    assert empty.state == UploadState.REFUSED
    assert empty.why


def test_take_upload_twice_imports_once():
    upload = receive_upload(vtt(), label="7.vtt")
    take_upload(upload.pk)
    CaptionUpload.objects.update(number=F("number"))

    take_upload(upload.pk)

    assert ArchivedShow.objects.count() == 1
