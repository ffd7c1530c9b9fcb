"""Times as WebVTT has them, as people write them, and as the writer writes them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.captions import Cue, format_timestamp, read_captions, read_timestamp, write_webvtt
from triage.errors import CaptionError, OutOfRangeError


@pytest.mark.source("webvtt")
@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("00:10.700", 10.7),
        ("00:00:10.700", 10.7),
        ("100:00:00.000", 360_000.0),
        ("01:41:29.000", 6089.0),
        ("01:50.100", 110.1),
        ("03:33.000", 213.0),
    ],
)
def test_timestamps_of_the_standard_are_read(text: str, seconds: float) -> None:
    assert read_timestamp(text) == pytest.approx(seconds, abs=1e-9)


@pytest.mark.source("webvtt")
@pytest.mark.parametrize(
    "text",
    ["0:10.700", "00:10,700", "00:60.000", "00:10.70", "60:00.000", "-00:10.700", "", "00:10.7000"],
)
def test_other_timestamps_are_refused(text: str) -> None:
    """Minutes and seconds have two digits up to 59, thousandths three behind a point."""
    with pytest.raises(CaptionError, match="no WebVTT timestamp"):
        read_timestamp(text)


@pytest.mark.parametrize(
    ("written", "seconds"),
    [
        ("0:10.700", 10.7),
        ("00:10,700", 10.7),
        ("00:60.000", 60.0),
        ("00:10.70", 10.7),
        ("60:00.000", 3600.0),
        ("00:10", 10.0),
        ("100:00:00,000", 360_000.0),
        ("7.25", 7.25),
    ],
)
def test_times_in_other_spellings_are_read_with_a_note(written: str, seconds: float) -> None:
    """Their sense is plain, so the words are kept."""
    captions = read_captions(f"WEBVTT\n\n{written} --> 200:00:00.000\nHello.\n".encode())

    assert captions.cues[0].start_s == pytest.approx(seconds)
    assert captions.notes == (
        "Line 3: the times are not written as the standard asks; they were read anyway.",
    )
    assert captions.problems == ()


def test_rounding_never_writes_a_sixtieth_second() -> None:
    assert format_timestamp(3599.9995) == "01:00:00.000"
    assert format_timestamp(59.9996) == "00:01:00.000"
    assert format_timestamp(0.0004) == "00:00:00.000"
    assert format_timestamp(360_000.0) == "100:00:00.000"


@pytest.mark.parametrize("time_s", [-0.001, float("nan"), float("inf")])
def test_times_that_are_none_cannot_be_written(time_s: float) -> None:
    with pytest.raises(OutOfRangeError, match="cannot be written"):
        format_timestamp(time_s)


@given(st.floats(0.0, 4e5))
def test_written_times_read_back_to_the_thousandth(time_s: float) -> None:
    assert abs(read_timestamp(format_timestamp(time_s)) - time_s) <= 0.0005 + 1e-6


def test_chapters_are_written_as_the_standard_shows() -> None:
    """Escaped, without the empty line that would end the cue."""
    chapters = [
        Cue(0.0, 10.7, "Slide <1> & more"),
        Cue(10.7, 3599.9995, "Two\n\nlines", speaker="Imke"),
    ]

    assert write_webvtt(chapters) == (
        "WEBVTT\n\n00:00:00.000 --> 00:00:10.700\nSlide &lt;1&gt; &amp; more\n\n"
        "00:00:10.700 --> 01:00:00.000\n<v Imke>Two\nlines\n"
    )


def test_writer_refuses_cues_out_of_order_and_without_length() -> None:
    with pytest.raises(OutOfRangeError, match="does not end after its start"):
        write_webvtt([Cue(1.0, 1.0004, "Too short.")])
    with pytest.raises(OutOfRangeError, match="stands behind one"):
        write_webvtt([Cue(360_000.0, 360_001.0, "Late."), Cue(2.0, 3.0, "Early.")])


lines = st.lists(
    st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1).map(
        lambda text: f"a{text}"
    ),
    min_size=1,
    max_size=3,
)


@given(st.lists(st.tuples(st.integers(0, 5000), st.integers(1, 5000), lines), min_size=1))
def test_what_is_written_is_read_again(drafts: list[tuple[int, int, list[str]]]) -> None:
    """Cues stand a second apart, as words that roll on would be joined."""
    cues = []
    at_ms = 0
    for gap_ms, length_ms, words in drafts:
        at_ms += gap_ms + 1000
        text = "\n".join(words)
        cues.append(Cue(at_ms / 1000, (at_ms + length_ms) / 1000, text))
        at_ms += length_ms

    again = read_captions(write_webvtt(cues).encode())

    assert [(c.start_s, c.end_s) for c in again.cues] == [
        pytest.approx((c.start_s, c.end_s)) for c in cues
    ]
    assert [c.text for c in again.cues] == [c.text for c in cues]
    assert again.problems == ()
