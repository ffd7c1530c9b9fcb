"""Chapters in the three forms they are handed on, against the published examples of two."""

import io
import itertools
import json
import re

import pytest
import webvtt
from hypothesis import given, settings
from hypothesis import strategies as st

from helpdesk.aftershow.chapters import (
    Chapter,
    fit_list,
    make_chapters,
    one_line,
    stamp,
    write_json,
    write_list,
    write_track,
)
from helpdesk.aftershow.engine import whole_thousandths
from helpdesk.episodes.models import Segment
from helpdesk.episodes.real_times import Basis, ShownPart

# W3C WebVTT, "Chapters example": starts and ends as printed there.
SLIDES = (
    ("Slide 1", 0.0, 10.7, "00:00:00.000", "00:00:10.700"),
    ("Slide 2", 10.7, 47.6, "00:00:10.700", "00:00:47.600"),
    ("Slide 3", 47.6, 110.1, "00:00:47.600", "00:01:50.100"),
    ("Slide 4", 110.1, 213.0, "00:01:50.100", "00:03:33.000"),
)
# Podcast namespace, JSON chapters: the starts of its example.
SAMPLE_STARTS = (0, 168, 260, 410, 3990, 4600, 5510, 5854, 6089)
TIME = r"(?:[0-9]{2,}:)?[0-5][0-9]:[0-5][0-9]\.[0-9]{3}"
TRACK = re.compile(rf"WEBVTT\n(?:\n{TIME} --> {TIME}\n(?:(?!.*-->)[^\n<>]+\n)+)*", re.ASCII)


def run(*starts: float, end: float, title: str = "Part") -> list[Chapter]:
    """Return chapters that follow each other."""
    ends = [*starts[1:], end]
    return [
        Chapter(start, until, f"{title} {n}")
        for n, (start, until) in enumerate(zip(starts, ends, strict=True), 1)
    ]


def part(slug: str, start_s: float, end_s: float, *, offset_s: int = 0) -> ShownPart:
    """Return a part of a show that needs no database."""
    return ShownPart(
        segment=Segment(slug=slug),
        start_s=start_s,
        end_s=end_s,
        planned_s=60,
        words=0,
        basis=Basis.NOTED,
        offset_s=offset_s,
    )


@pytest.mark.source("webvtt")
def test_track_has_the_cues_of_the_published_example():
    track = write_track([Chapter(start, end, title) for title, start, end, *_ in SLIDES])

    captions = webvtt.from_buffer(io.StringIO(track)).captions
    assert [(c.text, c.start, c.end) for c in captions] == [
        (title, first, last) for title, *_, first, last in SLIDES
    ]
    assert TRACK.fullmatch(track)


@pytest.mark.source("jsonchapters")
def test_json_has_the_shape_and_the_starts_of_the_published_example():
    found = json.loads(write_json(run(*SAMPLE_STARTS, end=6200), title="Nine"))

    assert found["version"] == "1.2.0"
    assert [c["startTime"] for c in found["chapters"]] == list(SAMPLE_STARTS)
    assert len(found["chapters"]) == 9
    known = {"startTime", "title", "img", "url", "toc", "endTime", "location"}
    for chapter in found["chapters"]:
        assert set(chapter) <= known
        assert isinstance(chapter["startTime"], float)
        assert isinstance(chapter["endTime"], float)


def test_time_is_rounded_before_it_is_taken_apart():
    """3599.9995 s is one hour, never 59 minutes and 60 seconds."""
    track = write_track([Chapter(0, 3599.9995, "Before"), Chapter(3599.9995, 3700, "After")])

    assert "01:00:00.000 --> 01:01:40.000" in track
    assert whole_thousandths(3599.9995) == 3600.0
    assert fit_list(run(0, 20, 3599.9995, end=3700)).lines[-1].startswith("1:00:00 ")


@settings(deadline=None)  # the machine may be busy
@given(
    st.lists(st.floats(0, 40_000), min_size=1, max_size=30, unique=True),
    st.text(st.characters(codec="utf-8"), max_size=20),
)
def test_every_track_keeps_to_the_grammar(starts: list[float], title: str) -> None:
    ordered = sorted(starts)
    parts = [
        part(title, a, b) for a, b in zip(ordered, [*ordered[1:], ordered[-1] + 5], strict=True)
    ]

    chapters = make_chapters(parts, {})
    track = write_track(chapters)

    assert all(
        a.end_s == b.start_s or b.start_s - a.end_s < 0.001 for a, b in itertools.pairwise(chapters)
    )
    assert TRACK.fullmatch(track)
    assert len(webvtt.from_buffer(io.StringIO(track)).captions) == len(chapters)


@settings(deadline=None)
@given(st.lists(st.integers(0, 400).map(lambda n: n / 7), min_size=1, max_size=25))
def test_list_starts_at_nought_ascends_and_holds_no_short_chapter(
    lengths: list[float],
) -> None:
    starts = [sum(lengths[:n]) for n in range(len(lengths))]

    fitted = fit_list(run(*starts, end=sum(lengths)))

    stamps = [c.start_s for c in fitted.chapters]
    assert stamps[0] == 0
    assert stamps == sorted(set(stamps))
    assert all(b - a >= 10 for a, b in itertools.pairwise(stamps))
    assert bool(fitted.trouble) == (len(stamps) < 3)
    assert len(fitted.chapters) + len(fitted.merged) == len(lengths)


def test_list_joins_a_short_chapter_to_the_next_and_says_so():
    chapters = [
        Chapter(0, 6, "Tease"),
        Chapter(6, 40, "Hello"),
        Chapter(40, 200, "The bowl"),
        Chapter(200, 300, "Thanks"),
        Chapter(300, 304, "Farewell"),
    ]

    fitted = fit_list(chapters)

    assert fitted.lines == ["00:00 Hello", "00:40 The bowl", "03:20 Thanks"]
    assert fitted.merged == (
        "“Tease” is part of “Hello”.",
        "“Farewell” is part of “Thanks”.",
    )


def test_list_says_when_there_are_too_few():
    assert "there are 2" in fit_list(run(0, 30, end=90)).trouble


def test_list_never_points_before_a_chapter():
    """A stamp is the second in which the chapter has begun."""
    assert write_list(run(0, 20.2, 60.9, end=99)).split("\n")[1] == "00:21 Part 2"


def test_recording_that_starts_earlier_has_a_silent_chapter_in_front():
    chapters = make_chapters(
        [part("Tease", 0, 20, offset_s=90), part("Hello", 20, 50, offset_s=90)], {}
    )

    assert [(c.start_s, c.title, c.is_silent) for c in chapters] == [
        (0, "Before the show", True),
        (90, "Tease", False),
        (110, "Hello", False),
    ]
    assert json.loads(write_json(chapters))["chapters"][0]["toc"] is False


def test_recording_that_starts_later_loses_what_was_before_it():
    parts = [part("Tease", 0, 20, offset_s=-30), part("Hello", 20, 50, offset_s=-30)]

    assert [(c.start_s, c.end_s, c.title) for c in make_chapters(parts, {})] == [(0, 20, "Hello")]


@pytest.mark.parametrize(
    ("second", "is_long", "words"),
    [(281, False, "04:41"), (0, True, "0:00:00"), (6089, True, "1:41:29")],
)
def test_stamp(second, is_long, words):
    assert stamp(second, is_long=is_long) == words


def test_title_is_one_line_without_the_arrow_of_times():
    assert one_line(" A\n --> B ") == "A → B"
    assert one_line("\n") == "Untitled part"
