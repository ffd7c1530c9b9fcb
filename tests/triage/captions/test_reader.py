"""Caption files as people have them: nothing is lost without a word."""

import re

import pytest
import webvtt
from hypothesis import given
from hypothesis import strategies as st

from triage.captions import Captions, Cue, read_captions
from triage.errors import CaptionError, InputError

HOUR = "WEBVTT\n\n00:01.000 --> 00:02.000\nOne.\n\n00:02.000 --> 00:04.500\nTwo.\n"


def read(text: str) -> Captions:
    return read_captions(text.encode())


def texts(captions: Captions) -> list[str]:
    return [cue.text for cue in captions.cues]


def test_webvtt_and_subrip_are_told_apart_by_content() -> None:
    subrip = "1\n00:00:01,000 --> 00:00:02,000\nOne.\n\n2\n00:00:02,000 --> 00:00:04,500\nTwo.\n"

    assert read(HOUR).file_format == "webvtt"
    assert read(subrip).file_format == "subrip"
    assert read(HOUR).cues == read(subrip).cues == (Cue(1.0, 2.0, "One."), Cue(2.0, 4.5, "Two."))
    assert read(subrip).notes == read(subrip).problems == ()


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        (b"\xef\xbb\xbf" + HOUR.encode(), "utf-8"),
        (HOUR.encode("utf-16"), "utf-16"),
        (b"\xfe\xff" + HOUR.encode("utf-16-be"), "utf-16"),
        (HOUR.encode("utf-16-le"), "utf-16"),
        (HOUR.encode("utf-16-be"), "utf-16"),
        (HOUR.encode("utf-32"), "utf-32"),
        (HOUR.replace("One", "K\xe4se \u201cgut\u201d").encode("cp1252"), "latin-1"),
        (HOUR.replace("One", "\x81\xe4").encode("latin-1"), "latin-1"),
        (HOUR.replace("\n", "\r\n").encode(), "utf-8"),
        (HOUR.replace("\n", "\r").encode(), "utf-8"),
    ],
)
def test_encodings_and_line_ends(data: bytes, encoding: str) -> None:
    captions = read_captions(data)

    assert captions.encoding == encoding
    assert [cue.start_s for cue in captions.cues] == [1.0, 2.0]
    assert captions.cues[1].text == "Two."


def test_latin_letters_are_kept_and_noted() -> None:
    captions = read_captions(HOUR.replace("Two", "Gr\xfc\xdfe").encode("latin-1"))

    assert captions.cues[1].text == "Gr\xfc\xdfe."
    assert captions.notes == ("Line 7: this is no UTF-8, so the file was read as Latin-1.",)


def test_broken_bytes_behind_a_mark_are_noted() -> None:
    captions = read_captions(b"\xef\xbb\xbf" + HOUR.encode() + b"\xff\n")

    assert "1 character is no UTF-8" in captions.notes[0]


@pytest.mark.parametrize("data", [b"", b" \r\n\t", b"\xef\xbb\xbf", b"\x00\x00"])
def test_an_empty_file_is_refused(data: bytes) -> None:
    with pytest.raises(CaptionError, match=r"empty|no cue"):
        read_captions(data)


def test_files_that_are_no_captions_are_refused() -> None:
    with pytest.raises(CaptionError, match="no text"):
        read_captions(bytes(range(32)) * 20)
    with pytest.raises(
        CaptionError, match=r"no cue with a time and words .*these words have no ti"
    ):
        read("Dear desk, please find the captions attached.")
    with pytest.raises(CaptionError, match="no cue"):
        read("WEBVTT\n\n00:01.000 --> 00:02.000\n\n")
    assert issubclass(CaptionError, InputError)


@pytest.mark.source("webvtt")
def test_comments_styles_settings_and_tags_are_no_speech() -> None:
    captions = read(
        "WEBVTT - The Salvage Hour\nKind: captions\n\nNOTE made\nby hand\n\nSTYLE\n::cue { x }\n\n"
        "REGION\nid:fred\n\nopening\n00:01.000 --> 00:02.000 align:start position:0%\n"
        "<v.loud Imke Sandoval>Hi <i.x>all</i> &amp; <ruby>you<rt>ju</rt></ruby>&nbsp;&lt;3</v>\n"
    )

    assert captions.cues == (Cue(1.0, 2.0, "Hi all & you (ju) <3", "Imke Sandoval"),)
    assert captions.notes == (
        "Line 4 and 2 more: a comment or a block of style is no speech.",
        "Line 13: the name of a cue is no speech.",
    )
    assert captions.problems == ()


def test_subrip_marks_of_layout_are_taken_off() -> None:
    captions = read(
        "1\n00:00:01,000 --> 00:00:02,000 X1:10 X2:20\n{\\an8}<b>walls < 1 mm</b><br>NOTE this\n"
    )

    assert texts(captions) == ["walls < 1 mm\nNOTE this"]


def test_missing_empty_lines_lose_nothing() -> None:
    """Neither words nor the numbers of the cues are mixed up."""
    captions = read(
        "1\n00:00:01,000 --> 00:00:02,000\nOne.\n2\n00:00:02,000 --> 00:00:03,000\nTwo.\n"
        "00:00:03,000 --> 00:00:04,000\nThree\n\nstill three\n\n7\n"
    )

    assert texts(captions) == ["One.", "Two.", "Three\nstill three"]
    assert [note.split(":")[0] for note in captions.notes] == ["Line 3", "Line 10", "Line 12"]


def test_every_cue_that_is_dropped_is_a_problem_with_its_line() -> None:
    captions = read(
        "stray words\n\n1\n00:00:xx,000 --> 00:00:02,000\nLost one.\n\n"
        "2\n-00:00:05,000 --> -00:00:01,000\nLost two.\n\n"
        "3\n-00:00:01,000 --> 00:00:03,000\nKept.\n"
    )

    assert captions.problems == (
        "Line 1: these words have no time and were left out: \u201cstray words\u201d.",
        "Line 4: the times in '00:00:xx,000 --> 00:00:02,000' cannot be read, so the cue was left"
        " out: \u201cLost one.\u201d.",
        "Line 8: the cue ends before the recording starts, so the cue was left out:"
        " \u201cLost two.\u201d.",
    )
    assert captions.cues == (Cue(0.0, 3.0, "Kept."),)
    assert any("starts before 0" in note for note in captions.notes)


def test_cues_out_of_order_are_sorted_and_wrong_ends_mended() -> None:
    captions = read(
        "WEBVTT\n\n00:05.000 --> 00:04.000\nback to front here\n\n"
        "00:01.000 --> 00:09.000\nOverlaps.\n\n00:05.400 --> 00:05.400\nNo length.\n"
    )

    assert [cue.start_s for cue in captions.cues] == [1.0, 5.0, 5.4]
    assert [cue.end_s for cue in captions.cues] == pytest.approx([9.0, 5.4, 6.4])
    assert len(captions.notes) == 2


def test_words_with_an_arrow_stay_words() -> None:
    captions = read("WEBVTT\n\n00:01.000 --> 00:02.000\nfrom PLA --> PETG\n")

    assert texts(captions) == ["from PLA --> PETG"]


def test_rolling_lines_are_said_once() -> None:
    """As speech recognition writes them: the line above again, then words with their times."""
    captions = read(
        "WEBVTT\nKind: captions\n\n00:01.000 --> 00:03.000 align:start\n \nso<00:01.200><c> the</c>"
        "<00:01.800><c> bowl</c>\n\n00:03.000 --> 00:03.010\nso the bowl\n \n\n"
        "00:03.010 --> 00:05.000\nso the bowl\nhas<00:03.500><c> hairs</c>\n\n"
        "00:05.000 --> 00:05.010\nhas hairs\n \n\n00:05.010 --> 00:07.000\nhas hairs\nyes yes\n"
    )

    assert texts(captions) == ["so the bowl", "has hairs", "yes yes"]
    assert captions.is_automatic
    assert captions.problems == ()


def test_growing_lines_are_said_once() -> None:
    captions = read(
        "WEBVTT\n\n00:01.000 --> 00:02.000\nso\n\n00:02.000 --> 00:03.000\nso the\n\n"
        "00:03.000 --> 00:04.000\nso the bowl\n"
    )

    assert " ".join(texts(captions)) == "so the bowl"


def test_people_who_repeat_themselves_are_left_alone() -> None:
    lines = ["yes", "yes", *(f"word {number} here." for number in range(20))]
    cues = "\n".join(
        f"00:{at:02d}.000 --> 00:{at + 1:02d}.000\n{line}\n" for at, line in enumerate(lines)
    )

    assert texts(read(f"WEBVTT\n\n{cues}")) == lines


def test_captions_without_stops_look_automatic() -> None:
    plain = "and then the corner came up and it would not stay on the plate at all "
    typed = "And then? The corner came up. It would not stay. Not at all, on the plate. "

    assert read(f"WEBVTT\n\n00:01.000 --> 00:30.000\n{plain * 6}\n").is_automatic
    assert not read(f"WEBVTT\n\n00:01.000 --> 00:30.000\n{typed * 6}\n").is_automatic


def test_mixed_languages_are_told() -> None:
    english = "so this is the part that you sent to us and it is not what we want to see here "
    german = "das ist nicht gut und ich habe es mit dem Drucker nicht auf der Platte gesehen "

    assert read(f"WEBVTT\n\n00:01.000 --> 00:30.000\n{english * 6}{german * 6}\n").is_mixed
    assert not read(f"WEBVTT\n\n00:01.000 --> 00:30.000\n{english * 12}\n").is_mixed


@given(st.binary(max_size=300) | st.text(max_size=300).map(str.encode))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    try:
        captions = read_captions(data)
    except CaptionError:
        return
    assert captions.cues


_PIECES = r"""||  |1|00:01.000 --> 00:02.000|00:00:01,500 --> 00:00:09,000|-->|<c>|-00:01 --> 00:05|
-00:05 --> -00:01|99:99:99 --> x|00:03.000-->00:01.000 align:start|word|word|word|<v Imke>word|
word --> word|{\an8}word"""
PIECES = st.sampled_from(_PIECES.replace("|\n", "|").split("|"))


@given(st.booleans(), st.lists(PIECES, max_size=20))
def test_every_word_is_kept_or_told_of(is_webvtt: bool, pieces: list[str]) -> None:
    """Pieces of files in any order: each word stands in a cue, in a problem or the refusal."""
    lines = ["WEBVTT", ""] if is_webvtt else []
    for at, piece in enumerate(pieces):
        if is_webvtt and ":" in piece:
            lines.append("")  # or the line above would be the cue's name
        lines.append(piece.replace("word", f"w{at}", 1))
    spoken = {f"w{at}" for at, piece in enumerate(pieces) if "word" in piece}
    try:
        captions = read("\n".join(lines))
    except CaptionError:
        return

    told = set(re.findall(r"w\d+", " ".join((*texts(captions), *captions.problems))))

    assert told == spoken
    starts = [cue.start_s for cue in captions.cues]
    assert starts == sorted(starts)
    assert all(cue.end_s > cue.start_s >= 0.0 and cue.text for cue in captions.cues)


clean = st.lists(
    st.tuples(
        st.integers(1, 3000), st.integers(1, 3000), st.sampled_from(["Ah.", "One two.", "B"])
    ),
    min_size=1,
    max_size=15,
)


@given(clean)
def test_valid_files_are_read_as_a_library_reads_them(drafts: list[tuple[int, int, str]]) -> None:
    blocks, at = ["WEBVTT\n"], 0
    for number, (gap, length, words) in enumerate(drafts):
        start, at = at + gap + 1000, at + gap + 1000 + length
        stamps = [f"00:{t // 60000:02d}:{t // 1000 % 60:02d}.{t % 1000:03d}" for t in (start, at)]
        blocks.append(f"{stamps[0]} --> {stamps[1]}\n{words} {number}\n")
    text = "\n".join(blocks)

    theirs = [(c.start_in_seconds, c.text) for c in webvtt.from_string(text).captions]

    assert [(int(cue.start_s), cue.text) for cue in read(text).cues] == [
        (int(start), words) for start, words in theirs
    ]
