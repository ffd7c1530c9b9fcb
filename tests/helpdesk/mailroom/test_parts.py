"""Splitting a letter into parts, judged by the standard library and bounded on mail bombs."""

import email
import importlib.util
import time
from pathlib import Path

import pytest

from helpdesk.mailroom.letters import read_letter
from helpdesk.mailroom.limits import MAX_DEPTH, MAX_PARTS
from helpdesk.mailroom.parts import decode_base64, split_letter
from tests.helpdesk.mailroom.letters import letter, plain

# Messages of CPython's own test suite that are malformed on purpose, or whose delivery reports and
# pointers the standard library takes apart further than the desk wants.
READ_OTHERWISE = {
    "msg_15",
    "msg_16",
    "msg_17",
    "msg_31",
    "msg_36",
    "msg_37",
    "msg_39",
    "msg_42",
    "msg_43",
}
SECONDS = 5.0  # a loaded machine; unbounded work takes minutes


def corpus() -> list[Path]:
    """Return the messages of CPython's test suite, none where it is not installed."""
    found = importlib.util.find_spec("test.test_email")
    if found is None or found.origin is None:
        return []
    return sorted((Path(found.origin).parent / "data").glob("msg_*.txt"))


def test_corpus_is_there(needs):
    """The standard library's messages come with Python, in Debian with libpython3-testsuite."""
    needs("CPython's test.test_email", len(corpus()) > 40)


@pytest.mark.parametrize("path", corpus(), ids=lambda path: path.stem)
def test_parts_are_those_of_the_standard_library(path):
    """Well-formed messages have the same leaves with the same bytes (email.parser of CPython)."""
    raw = path.read_bytes()
    split = split_letter(raw)
    if path.stem in READ_OTHERWISE:
        assert split.parts
        return
    judge = [
        (part.get_content_type(), str(part.get_payload()).replace("\r\n", "\n"))
        for part in email.message_from_bytes(raw).walk()
        if not part.is_multipart()
    ]

    ours = [(part.kind, part.body.decode("latin-1").replace("\r\n", "\n")) for part in split.parts]
    assert ours == judge


def nested(depth: int) -> bytes:
    """Return a letter whose parts are nested so deep."""
    return b"From: a@tarnstreet.example\r\n" + b"".join(
        b'Content-Type: multipart/mixed; boundary="b%d"\r\n\r\n--b%d\r\n' % (n, n)
        for n in range(depth)
    )


def side_by_side(count: int) -> bytes:
    """Return a letter with so many parts."""
    return (
        b'Content-Type: multipart/mixed; boundary="b"\r\n\r\n'
        + b"--b\r\n\r\nx\r\n" * count
        + b"--b--\r\n"
    )


BOMBS = {
    "nested": nested(1000),
    "nested deeper": nested(50_000),
    "parts": side_by_side(50_000),
    "letters in letters": b"Content-Type: message/rfc822\r\n\r\n" * 1000,
    "fields": b"X-A: b\r\n" * 100_000 + b"\r\nwords",
    "one long field": b"Subject: " + b"=?utf-8?q?a?= " * 100_000 + b"\r\n\r\nwords",
    "folded field": b"Subject: a\r\n" + b" b\r\n" * 200_000 + b"\r\nwords",
    "comments": b"From: " + b"(" * 50_000 + b"\r\n\r\nwords",
    "quotes": b'Content-Type: text/plain; charset="' + b'\\"' * 50_000 + b"\r\n\r\nwords",
    "addresses": b"From: " + b"a@b.example, " * 50_000 + b"\r\n\r\nwords",
    "boundary lines": b'Content-Type: multipart/mixed; boundary="b"\r\n\r\n' + b"--c\r\n" * 400_000,
    "no line ends": b"--b" * 700_000,
    "deep markup": b"Content-Type: text/html\r\n\r\n" + b"<div>" * 200_000,
    "open markup": b"Content-Type: text/html\r\n\r\n" + b"<a <!" * 200_000,
    "quote marks": b"From: a@b.example\r\n\r\n" + b">" * 400_000 + b"\r\n" + b"> a\r\n" * 80_000,
    "attributions": b"From: a@b.example\r\n\r\n" + b"On a day 10:30 somebody wrote\r\n" * 30_000,
}


@pytest.mark.parametrize("name", BOMBS)
def test_mail_bomb_costs_no_more_than_other_bytes(name):
    """Neither depth nor number nor length makes reading slow, deep or fail."""
    start = time.perf_counter()
    read = read_letter(BOMBS[name])

    assert time.perf_counter() - start < SECONDS
    assert len(read.text) <= 200_000


def test_too_many_and_too_deep_parts_are_for_a_person():
    """Beyond the limits a letter is set aside with the reason."""
    assert read_letter(nested(1000)).refusal == f"Its parts are nested more than {MAX_DEPTH} deep."
    assert read_letter(side_by_side(2000)).refusal == f"It has more than {MAX_PARTS} parts."
    assert not read_letter(side_by_side(900)).refusal


def test_lone_line_ends_are_read():
    """A letter with bare CR or LF line ends has the same fields and words (RFC 7103 7.1)."""
    raw = letter("First line.\nSecond line.")
    by_lf, by_cr = raw.replace(b"\r\n", b"\n"), raw.replace(b"\r\n", b"\r")

    assert {read_letter(each).words for each in (raw, by_lf, by_cr)} == {
        "First line.\nSecond line."
    }


def test_header_without_the_blank_line_after_it():
    """RFC 7103 section 7.2: a line that is no field ends the header and is read as words."""
    read = read_letter(
        plain("From: a@tarnstreet.example", "Subject: x", "The rook has holes.", "more")
    )

    assert (read.subject, read.words) == ("x", "The rook has holes.\nmore")


def test_boundary_that_never_comes_leaves_one_text():
    """RFC 7103 section 8: a multipart without parts is read as words, not lost."""
    read = read_letter(
        plain("From: a@b.example", 'Content-Type: multipart/mixed; boundary="x"', "", "Words here.")
    )

    assert read.words == "Words here."


def test_missing_mime_version_is_tolerated():
    """RFC 2049 section 2: parts are read even where MIME-Version is missing."""
    raw = letter(photos=1).replace(b"MIME-Version: 1.0\r\n", b"")

    assert len(read_letter(raw).files) == 1


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"aGVsbG8=", b"hello"),
        (b"aGVsbG8", b"hello"),
        (b"aGV*s\r\nbG8=\r\n", b"hello"),
        (b"a", b""),
        (b"", b""),
    ],
)
def test_base64_gives_what_can_be_read(data, expected):
    """RFC 2045 section 6.8: stray characters are passed over; a cut end costs only itself."""
    assert decode_base64(data) == expected


def test_unknown_transfer_encoding_is_opaque():
    """RFC 2045 section 6.4: such a part is octets nobody can read; it stays with the letter."""
    raw = letter(files=[("rook.stl", b"solid")]).replace(b"base64", b"x-own-code")

    read = read_letter(raw)

    assert read.files == ()
    assert "encoded in a way no standard names" in " ".join(read.notes)


@pytest.mark.parametrize(
    "kind",
    [
        "message/partial; id=1; number=1",
        "message/external-body; access-type=URL; URL=http://t.example/x",
    ],
)
def test_pointers_are_never_followed(kind):
    """RFC 2046 section 5.2: pieces and pointers stay with the letter."""
    read = read_letter(plain("From: a@tarnstreet.example", f"Content-Type: {kind}", "", "x"))

    assert read.files == ()
    assert "was left with the letter" in " ".join(read.notes)


def test_package_of_one_mail_program_stays_with_the_letter():
    """A winmail.dat is named, so that a reviewer can ask for the files again."""
    read = read_letter(letter(files=[("winmail.dat", b"\x78\x9f\x3e\x22rest")]))

    assert read.files == ()
    assert "winmail.dat" in " ".join(read.notes)
