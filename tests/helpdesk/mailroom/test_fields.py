"""Header fields: encoded words, addresses, dates, charsets."""

import datetime

import pytest

from helpdesk.core import clock
from helpdesk.mailroom.fields import decode_words, line_of, read_date, read_mailboxes
from helpdesk.mailroom.letters import read_letter
from helpdesk.mailroom.text import clean_line, clean_text, decode_text
from tests.helpdesk.mailroom.letters import letter, plain

# RFC 2047 section 8, the examples of encoded and displayed forms.
RFC_2047 = [
    ("=?US-ASCII?Q?Keith_Moore?= <moore@cs.utk.edu>", "Keith Moore <moore@cs.utk.edu>"),
    ("=?ISO-8859-1?Q?Keld_J=F8rn_Simonsen?= <keld@dkuug.dk>", "Keld Jørn Simonsen <keld@dkuug.dk>"),
    (
        "=?ISO-8859-1?Q?Andr=E9?= Pirard <PIRARD@vm1.ulg.ac.be>",
        "André Pirard <PIRARD@vm1.ulg.ac.be>",
    ),
    (
        "=?ISO-8859-1?B?SWYgeW91IGNhbiByZWFkIHRoaXMgeW8=?=\n"
        " =?ISO-8859-2?B?dSB1bmRlcnN0YW5kIHRoZSBleGFtcGxlLg==?=",
        "If you can read this you understand the example.",
    ),
    ("(=?ISO-8859-1?Q?a?=)", "(a)"),
    ("(=?ISO-8859-1?Q?a?= b)", "(a b)"),
    ("(=?ISO-8859-1?Q?a?= =?ISO-8859-1?Q?b?=)", "(ab)"),
    ("(=?ISO-8859-1?Q?a?=  =?ISO-8859-1?Q?b?=)", "(ab)"),
    ("(=?ISO-8859-1?Q?a?=\n    =?ISO-8859-1?Q?b?=)", "(ab)"),
    ("(=?ISO-8859-1?Q?a_b?=)", "(a b)"),
    ("(=?ISO-8859-1?Q?a?= =?ISO-8859-2?Q?_b?=)", "(a b)"),
]


@pytest.mark.parametrize(("value", "shown"), RFC_2047)
def test_encoded_words_of_rfc_2047(value, shown):
    """RFC 2047 section 8: encoded form and how it is displayed."""
    assert decode_words(value) == shown


def test_encoded_words_are_decoded_once():
    """What decodes to an encoded word is shown as it stands."""
    assert decode_words("=?utf-8?q?=3D=3Futf-8=3Fq=3Fa=3F=3D?=") == "=?utf-8?q?a?="


@pytest.mark.parametrize(
    "value", ["=?x-nope?q?a=E9?=", "=?utf-8?b?not-base64!?=", "=?utf-8?q?=FF=FE?=", "=??q??="]
)
def test_broken_encoded_words_never_raise(value):
    """RFC 2047 section 6.3: what cannot be decoded is shown in some way, never an error."""
    assert isinstance(line_of(value, limit=100), str)


def test_lines_lose_what_turns_or_hides():
    """Control characters, direction marks and characters without width are taken out."""
    assert clean_line("a\r\nBcc: b\x00\u202ec\u200bd\u2066", limit=50) == "a Bcc: b cd"
    assert clean_text("one\r\ntwo\x00\x1b[31m\u202ethree\ufeff") == "one\ntwo[31mthree"


@pytest.mark.parametrize(
    ("value", "address", "name"),
    [
        ("bettine@tarnstreet.example", "bettine@tarnstreet.example", ""),
        (
            '"Halvorsen, Bettine" <bettine@tarnstreet.example>',
            "bettine@tarnstreet.example",
            "Halvorsen, Bettine",
        ),
        ("=?utf-8?q?J=C3=B8rn?= <j@tarnstreet.example>", "j@tarnstreet.example", "Jørn"),
        ("j@tarnstreet.example (Jorn)", "j@tarnstreet.example", "Jorn"),
        ("Pete(A nice \\) chap) <pete(his account)@silly.test(his host)>", "", ""),
    ],
)
def test_mailboxes_are_read_or_left_out(value, address, name):
    """RFC 5322 section 3.4; comments inside an address are left out rather than guessed."""
    found = read_mailboxes([value])

    assert (found[0].address, found[0].name) == (address, name) if address else not found


@pytest.mark.parametrize(
    "value",
    [
        "alice@one.example)bob@two.example",
        "alice@one.example(<bob@two.example>",
        "<@one.example",
        "a@b@c.example",
        "a b@c.example",
        "=?utf-8?q?a=40b=2Eexample?=",
        "",
        "@",
        "\x00@\x00",
        "(" * 5000,
    ],
)
def test_no_address_is_made_of_what_is_none(value):
    """CVE-2023-27043, RFC 2047 section 5: a trick with comments or encoded words names nobody."""
    assert all(box.address in value for box in read_mailboxes([value]))
    assert "bob@two.example" not in [box.address for box in read_mailboxes([value.split("(")[0]])]


LATEST = datetime.datetime(2026, 11, 27, tzinfo=datetime.UTC)


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("Fri, 21 Nov 1997 09:55:06 -0600", "1997-11-21T15:55:06+00:00"),  # RFC 5322 A.1.1
        ("Thu, 01 Jan 1970 00:00:00 +0000", None),
        ("Sun, 07 Feb 2106 06:28:15 +0000", None),
        ("Mon, 31 Dec 9999 23:59:59 -2359", None),
        ("Wed, 18 Nov 2026 10:30:00 -0000", "2026-11-18T10:30:00+00:00"),
        ("yesterday", None),
        ("", None),
        ("Wed, 99 Nov 2026 99:99:99 +9999", None),
    ],
)
def test_dates_are_read_or_left_out(value, expected):
    """RFC 5322 section 3.3; a date that cannot be true says nothing."""
    moment = read_date(value, latest=LATEST)

    assert (moment.astimezone(datetime.UTC).isoformat() if moment else None) == expected


@pytest.mark.parametrize(
    ("data", "charset", "text", "is_noted"),
    [
        ("Grüße".encode(), "utf-8", "Grüße", False),
        ("Grüße".encode("cp1252"), "iso-8859-1", "Grüße", False),
        ("Grüße".encode(), "", "Grüße", True),
        ("Grüße".encode(), "us-ascii", "Grüße", True),
        ("Grüße".encode("cp1252"), "utf-8", "Grüße", True),
        ("Grüße".encode(), "x-nope", "Grüße", True),
        ("Grüße".encode(), "rot13", "Grüße", True),
        ("Grüße".encode(), "idna", "Grüße", True),
        ("Grüße".encode(), "\x00", "Grüße", True),
        ("日本".encode("iso-2022-jp"), "iso-2022-jp", "日本", False),
        (b"\x81\x8d", "utf-8", "\ufffd\ufffd", True),
    ],
)
def test_charsets_are_believed_as_far_as_they_can_be(data, charset, text, is_noted):
    """RFC 7103 sections 7.6 and 7.7: a wrong charset costs characters at most, never the letter."""
    decoded = decode_text(data, charset)

    assert decoded.text == text
    assert bool(decoded.note) == is_noted


def test_raw_bytes_in_fields_are_read():
    """RFC 6532 allows UTF-8 in fields; older programs write Windows-1252."""
    assert read_letter(plain("Subject: Grüße", "", "x")).subject == "Grüße"
    assert read_letter(b"Subject: Gr\xfc\xdfe\r\n\r\nx").subject == "Grüße"


def test_file_names_of_rfc_2231():
    """RFC 2231 section 4: continued and percent-encoded parameters name the file."""
    raw = letter(files=[("x.gcode", b"G28\n")]).replace(
        b'filename="x.gcode"', b"filename*0*=UTF-8''t%C3%BCr; filename*1*=%20eins.gcode"
    )

    assert [file.label for file in read_letter(raw).files] == ["tür eins.gcode"]


def test_date_that_cannot_be_true_is_noted():
    """The letter is read all the same."""
    raw = letter().replace(b"18 Nov 2026", b"18 Nov 1970")

    read = read_letter(raw)

    assert read.sent_at is None
    assert "Its date cannot be true and is left out." in read.notes
    sent_at = read_letter(letter()).sent_at
    assert sent_at
    assert sent_at < clock.now() + datetime.timedelta(days=2)
