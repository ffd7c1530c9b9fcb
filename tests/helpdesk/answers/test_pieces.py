"""Answers cut for channels with short messages."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpdesk.answers.cautions import Caution
from helpdesk.answers.letters import Letter, make_letter
from helpdesk.answers.pieces import SHORTEST_LIMIT, cut_letter

DANGER = Caution(id="d", text="Switch off at the wall and unplug.", is_danger=True)
MIND = Caution(id="m", text="The plate is hot.", is_danger=False)
BODY = (
    "Hello Bettine,\n\nWhat we see: "
    + "the corners have lifted by several millimetres. " * 8
    + "\n\nWhy it happens: plastic shrinks as it cools. "
    + "\n\nDo this first: close the window."
    + "\n\nThen: go on in this order.\n\n1. "
    + "Warm the plate by 5 °C and try again. " * 12
)


def test_short_letter_is_one_message_without_a_number() -> None:
    """What fits is sent as it is."""
    letter = make_letter("Hello,\n\nDo this first: close the window.", [])

    assert cut_letter(letter, 500).texts == (letter.text,)


def test_long_letter_loses_what_can_be_spared_first() -> None:
    """What we see goes first, then the later steps; cautions and first step stay."""
    pieces = cut_letter(make_letter(BODY, [DANGER, MIND]), 200)

    everything = "\n".join(pieces.texts)
    assert pieces.left_out == ("What we see", "Then")
    assert len(pieces.texts) <= 3
    assert "Before anything else: Switch off at the wall and unplug." in pieces.texts[0]
    assert "Do this first: close the window." in everything
    assert "The plate is hot." in everything
    assert "plastic shrinks" in everything


def test_list_of_cautions_stays_a_list_when_it_is_cut() -> None:
    """Each caution begins on a line of its own in every piece."""
    cautions = [Caution(id=str(n), text=f"Mind number {n}.", is_danger=False) for n in range(9)]

    texts = cut_letter(make_letter("Hello.", cautions), 100).texts

    assert len(texts) > 1
    assert all(line.count("- Mind") <= 1 for text in texts for line in text.splitlines())


def test_letter_is_cut_at_paragraphs_where_they_fit() -> None:
    """A step is not torn apart when a cut between two steps does."""
    letter = make_letter("\n\n".join(f"{n}. Turn the screw a little." for n in range(9)), [])

    for text in cut_letter(letter, 100).texts:
        assert text.endswith("little.")


@given(
    body=st.text(max_size=1500),
    danger=st.text(min_size=1, max_size=400).filter(lambda t: t.strip()),
    limit=st.integers(min_value=SHORTEST_LIMIT, max_value=2000),
)
def test_no_piece_is_longer_than_the_limit_and_no_danger_is_lost(
    body: str, danger: str, limit: int
) -> None:
    """Whatever is written: pieces fit, and the words of the danger are all there, in order."""
    letter = make_letter(body, [Caution(id="d", text=danger, is_danger=True)])

    pieces = cut_letter(letter, limit).texts

    joined = "".join("".join(pieces).split())
    for number in range(len(pieces), 0, -1):
        joined = joined.replace(f"({number}/{len(pieces)})", "", 1) if len(pieces) > 1 else joined
    assert all(len(piece) <= limit for piece in pieces)
    assert "".join(letter.dangers[0].split()) in joined


def test_empty_letter_makes_no_trouble() -> None:
    """Nothing in, one empty message out."""
    assert cut_letter(Letter((), (), ()), 100).texts == ("",)


@pytest.mark.parametrize("limit", [80, 120])
def test_pieces_are_numbered_in_order(limit: int) -> None:
    """The reader sees how many there are and which this is."""
    texts = cut_letter(make_letter(BODY, [DANGER, MIND]), limit).texts

    assert [t.split(" ", 1)[0] for t in texts] == [
        f"({n}/{len(texts)})" for n in range(1, len(texts) + 1)
    ]
