"""Chat copies are told apart from plain words, and who said what is kept in order.

The layouts are written from memory of what copies out of chats look like; there is no standard.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpdesk.capture.chats import list_speakers, read_chat

BRACKETED = """[18:03] kiln: The corners lift off the plate.
It is the third time.
[18:05] imke: Which plate is it?
[18:07] kiln: Smooth, at 60 degrees."""
DATED = """[25/11/2026, 18:03:11] Bettine H.: The corners lift.
[25/11/2026, 18:05:40] Imke: Which plate?"""
QUOTED = """[18:03] <kiln> The corners lift.
[18:05] <imke> Which plate?"""
DASHED = """25/11/2026, 18:03 - Bettine H.: The corners lift.
It is the third time.
25/11/2026, 18:05 - Imke: Which plate?"""
HEADED = """kiln — 25/11/2026 18:03
The corners lift.
It is the third time.
imke — Today at 18:05
Which plate?"""
SPACED = """Bettine H.  6:03 PM
The corners lift.
imke  6:05 PM
Which plate?"""
NAMED = """kiln: The corners lift.
imke: Which plate?
kiln: The smooth one."""


@pytest.mark.parametrize(
    ("text", "names"),
    [
        (BRACKETED, ["kiln", "imke"]),
        (DATED, ["Bettine H.", "Imke"]),
        (QUOTED, ["kiln", "imke"]),
        (DASHED, ["Bettine H.", "Imke"]),
        (HEADED, ["kiln", "imke"]),
        (SPACED, ["Bettine H.", "imke"]),
        (NAMED, ["kiln", "imke"]),
    ],
)
def test_read_chat_finds_who_speaks(text: str, names: list[str]) -> None:
    assert [speaker.name for speaker in list_speakers(read_chat(text))] == names


def test_read_chat_keeps_lines_below_with_their_author() -> None:
    kiln, imke = list_speakers(read_chat(BRACKETED))

    assert kiln.messages == 2
    assert kiln.words == (
        "The corners lift off the plate.\nIt is the third time.\nSmooth, at 60 degrees."
    )
    assert imke.words == "Which plate is it?"


def test_read_chat_keeps_the_stamp_as_written() -> None:
    assert [message.stamp for message in read_chat(DASHED)] == [
        "25/11/2026, 18:03",
        "25/11/2026, 18:05",
    ]


@pytest.mark.parametrize(
    "text",
    [
        "The corners lift off the plate.",
        "Printer: Tern 220\nMaterial: PLA\nNozzle: 0.4",
        "It went wrong at 18:03. I stopped it at 18:05.",
        "See https://posts.example/1\nand https://posts.example/2",
        "Hello\n[18:03] kiln: The corners lift.\n[18:05] imke: Which plate?",
        "kiln: The corners lift.\nimke: Which plate?",
        "",
        "\n\n",
    ],
)
def test_read_chat_leaves_plain_words_alone(text: str) -> None:
    assert read_chat(text) == ()


@given(st.text(max_size=400))
def test_read_chat_takes_any_text(text: str) -> None:
    for message in read_chat(text):
        assert message.author
        assert message.words in text.replace("\r\n", "\n")


def test_read_chat_stays_quick_on_a_hostile_line() -> None:
    assert read_chat("a" + " " * 50_000 + "b:") == ()
    assert read_chat("[" * 50_000) == ()
