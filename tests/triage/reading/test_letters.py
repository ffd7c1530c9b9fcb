"""Letters quoted in a letter are somebody else's words and are kept apart."""

import pytest

from tests.triage.reading.vocabulary import READER, stated
from triage.reading.letters import QUOTED_NOTE

EARLIER = "My prints have strings. The nozzle is at 250C."
ANSWER = "The corners lift. The nozzle is at 205C."

CHAINS = [
    f"{ANSWER}\n\n> {EARLIER}",
    f"{ANSWER}\n\nOn 3 May 2026 at 10:14, Somebody wrote:\n> {EARLIER}",
    f"{ANSWER}\n\nOn Mon, 4 May 2026 at 10:14, Somebody <who@desk.example>\nwrote:\n\n> {EARLIER}",
    f"On 3 May 2026, Somebody wrote:\n> {EARLIER}\n\n{ANSWER}",
    f"{ANSWER}\r\n\r\nOn 3 May 2026, Somebody wrote:\r\n> {EARLIER}\r\n",
    f"{ANSWER}\n\nOn 3 May 2026 at 10:14, Somebody wrote:\n\n{EARLIER}",
    f"{ANSWER}\n\n-----Original Message-----\nFrom: Somebody\n\n{EARLIER}",
    f"{ANSWER}\n\n____________________\nFrom: Somebody\nSent: Monday\n\n{EARLIER}",
    f"{ANSWER}\n> On 2 May, Another wrote:\n>> {EARLIER}\n> {EARLIER}",
    f"<p>{ANSWER}</p><blockquote>{EARLIER}<blockquote>{EARLIER}</blockquote></blockquote>",
]


@pytest.mark.parametrize("text", CHAINS)
def test_letters_quoted_are_not_the_persons_words(text: str) -> None:
    """Only the answer is read, in its place, and the reading says what was left out."""
    found = READER.read(text)

    assert [seen.finding for seen in found.observations] == ["warp"]
    assert found.facts.nozzle_c is not None
    assert found.facts.nozzle_c.value == 205.0
    assert text[slice(*found.facts.nozzle_c.span)] == found.facts.nozzle_c.quote
    assert found.notes == (QUOTED_NOTE,)


@pytest.mark.parametrize(
    "text",
    [
        ANSWER,
        f"A friend wrote: my corners lift. {ANSWER}",
        f"On Tuesday somebody wrote:\n{ANSWER}",
        f"On 3 May 2026, Somebody wrote:\n\n{ANSWER}",
        f"-----Original Message-----\nFrom: Somebody\n\n{ANSWER}",
        f"<blockquote>{ANSWER}",
    ],
)
def test_letters_that_are_all_there_is_are_read(text: str) -> None:
    """A letter that was only sent on, or tells of a letter in its own words, is read."""
    assert stated(text) == {"warp": "present"}
    assert READER.read(text).notes == ()


def test_letters_only_quoted_say_so() -> None:
    """Of a letter that is nothing but a quotation nothing is read, and the note tells why."""
    found = READER.read(f"> {ANSWER}\n> {EARLIER}")

    assert found.observations == ()
    assert found.notes == (QUOTED_NOTE,)
