"""Whole readings: exact quotes, any text at all, and work that stays linear."""

from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.triage.networks import make_fault, make_finding
from tests.triage.reading.vocabulary import READER, VOCABULARY
from triage import reading
from triage.knowledge import Material, Phrases, build_knowledge, load_knowledge
from triage.reading import READ_LIMIT, Reader, Reading, Vocabulary, read_text

_SPOKEN = """
corners lift no not without stringing gaps , . ? but and or I think levelled the bed didn't
help 0.4 mm nozzle 210 / 60 c ° % fan at - to half an hour 1/2 inch " nothing wrong with first
layer smoke used now fine &#39; <b> > mm/s retraction none : flow
"""
WORDS = st.sampled_from((*_SPOKEN.split(), "\n", "\u200b", "\U0001f525", "\u0627"))


def quoted(found: Reading) -> Iterator[tuple[str, tuple[int, int]]]:
    """Yield quote and span of every item of a reading that was read from the text."""
    facts = found.facts
    values = [getattr(facts, name) for name in facts.__dataclass_fields__ if name != "queries"]
    items = [*found.observations, *found.risks, *found.tried, *found.guesses, *found.advice]
    for item in (*items, *found.dangers, *facts.queries, *values):
        if item is not None and item.span is not None:
            assert item.quote is not None
            yield item.quote, item.span


def check_spans(text: str) -> None:
    """Fail unless every quote is the text at its span."""
    for quote, (start, end) in quoted(READER.read(text)):
        assert 0 <= start < end <= len(text)
        assert text[start:end] == quote


@given(st.text())
def test_reader_takes_any_text(text: str) -> None:
    """No text makes the reader fail, and its quotes are exact."""
    check_spans(text)


@given(st.lists(WORDS, max_size=40), st.sampled_from([" ", ""]))
def test_reader_takes_any_mix_of_its_own_words(words: list[str], joint: str) -> None:
    """No order of meaningful words makes the reader fail, and its quotes are exact."""
    check_spans(joint.join(words))


@pytest.mark.parametrize(
    "text",
    [
        "",
        " \n\t ",
        "\U0001f62d\U0001f62d\U0001f525",
        "\u0627\u0644\u0632\u0648\u0627\u064a\u0627 \u062a\u0631\u062a\u0641\u0639 corners lift",
        "\u200f\u202ecorners lift\u202c",
        "<p>The <b>corners</b> lift</p>&nbsp;<br>at&nbsp;43&nbsp;mm",
        "QUJDREVGR0hJSktMTU5PUFFSU1RVVldYWVo=" * 500,
        "\ud800 corners lift \udfff",
        "corners lift" + "\u0301" * 1000,
        "no " * 5000 + "stringing",
        "0.4" + ".4" * 2000 + " nozzle",
        "9" * 5000 + " mm nozzle",
        "<" * 5000,
        "&#" * 5000,
        "a@" * 3000,
        "corners lift, " * 3000,
    ],
)
def test_reader_survives_hostile_text(text: str) -> None:
    """Emoji, right-to-left marks, tags, encoded walls and floods are read without harm."""
    check_spans(text)


def test_reader_finds_words_amid_tags_and_marks() -> None:
    """Tags, entities and direction marks do not hide what is said."""
    found = READER.read(
        "<p>The <b>corners</b>&nbsp;\u202elift</p>&nbsp;<br>fails at&nbsp;43&nbsp;mm"
    )

    assert [seen.finding for seen in found.observations] == ["warp"]
    assert found.facts.failed_at_mm is not None
    assert found.facts.failed_at_mm.value == 43.0


def test_reader_says_when_it_cuts() -> None:
    """A text over the limit is read up to it, with a note."""
    long = READER.read("corners lift. " * 8000)
    short = READER.read("corners lift.")

    assert long.notes == (f"Only the first {READ_LIMIT:,} characters were read.",)
    assert short.notes == ()
    assert all(end <= READ_LIMIT for _, (_, end) in quoted(long))


def test_reader_work_is_linear_in_the_text() -> None:
    """Twice the text takes twice the pattern attempts, whatever it holds."""
    text = "I think the corners lift, no stringing, nothing helped; not sure why 0.4 nozzle "

    once, twice = (READER.read(text * times).attempts for times in (100, 200))

    assert once > 0
    assert twice == 2 * once


def test_reader_is_repeatable() -> None:
    """The same text reads the same, also by another reader of the same words."""
    text = "Corners lift at 43 mm, no gaps. I levelled the bed, no change. Maybe wet filament?"

    assert READER.read(text) == READER.read(text) == Reader(VOCABULARY).read(text)


def test_reader_takes_its_words_from_the_knowledge() -> None:
    """Phrases, materials, processes and dangers of the knowledge are all used."""
    knowledge = build_knowledge(
        faults=[make_fault()],
        findings=[make_finding("warp"), make_finding("scorch", danger="burning")],
        materials=[Material("PLA", "Polylactide", "MEX", ("pla",), "memory")],
        phrases={
            "finding": {"warp": Phrases(("corner* .. lift*",)), "scorch": Phrases(("brown plug",))}
        },
    )

    found = read_text(knowledge, "The corners of my PLA print lift. A brown plug.")

    assert [seen.finding for seen in found.observations] == ["warp", "scorch"]
    assert [danger.id for danger in found.dangers] == ["burning"]
    assert found.facts.process is not None
    assert found.facts.process.value == "MEX"


def test_reader_understands_every_phrase_of_the_knowledge_files() -> None:
    """Every pattern the reviewers wrote is in the pattern language."""
    found = Reader(load_knowledge()).read("The corners of my PLA print lift off the plate.")

    assert found.facts.material is not None
    assert found.facts.material.value == "PLA"


def test_reader_refuses_nothing_it_was_not_taught() -> None:
    """A reader without phrases still reads settings."""
    found = Reader(Vocabulary(phrases={"finding": {"x": Phrases()}})).read("0.4 nozzle")

    assert found.observations == ()
    assert found.facts.nozzle_mm is not None


def test_package_exports_what_it_names() -> None:
    """Every public name can be imported, and the list is sorted as the linter sorts it."""
    assert all(hasattr(reading, name) for name in reading.__all__)
