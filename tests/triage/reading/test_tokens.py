"""Words with places out of messy text."""

import pytest

from triage.reading.tokens import READ_LIMIT, tokenise


def sentences(text: str) -> list[list[str]]:
    """Return the words of a text sentence by sentence."""
    document = tokenise(text)
    found: list[list[str]] = []
    for word, number in zip(document.words, document.sentences, strict=True):
        if number == len(found):
            found.append([])
        found[number].append(word)
    return found


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("It ISN'T sticking", ["it", "isnt", "sticking"]),
        ("the nozzle's tip", ["the", "nozzle", "tip"]),
        ("0.4mm, 0,6 and .8", ["0.4", "mm", "0,6", "and", "0.8"]),
        ("war\u200bping", ["warping"]),
        ("st\u00adringing", ["stringing"]),
        ("d\u00e9coll\u00e9 de\u0301colle\u0301", ["decolle", "decolle"]),
        ("\uff37arping", ["warping"]),
        ("a\x00b\x07c", ["a", "b", "c"]),
        ("isn&#39;t &amp; won&rsquo;t", ["isnt", "wont"]),
        ("<p>It <b>warps</b></p>", ["it", "warps"]),
        ("see https://desk.example/warping?x=lift", ["see"]),
        ("mail me@desk.example now", ["mail", "now"]),
        ("QUJD" * 30, []),
        ("x" * 41, []),
        ("\U0001f62d\U0001f525", []),
        ("", []),
        ("1\u00bd cm", ["1.5", "cm"]),
        (
            "\u0627\u0644\u0637\u0628\u0642\u0629 lift",
            ["\u0627\u0644\u0637\u0628\u0642\u0629", "lift"],
        ),
    ],
)
def test_tokens_are_plain_words(text: str, words: list[str]) -> None:
    """Marks, tags, addresses and encoded walls are no words; spellings become one."""
    assert list(tokenise(text).words) == words


@pytest.mark.parametrize(
    "text",
    [
        "war\u200bping",
        "isn&#39;t",
        "De\u0301colle\u0301 fi\ufb01ll \u00bd",
        "a\u2014b \u2103 c\r\nd",
    ],
)
def test_tokens_remember_their_place(text: str) -> None:
    """The places of words are in order, inside the text, and quote what was typed."""
    document = tokenise(text)
    spans = list(zip(document.starts, document.ends, strict=True))

    assert spans == sorted(spans)
    assert all(0 <= start < end <= len(text) for start, end in spans)


def test_tokens_quote_hidden_characters_too() -> None:
    """A quote is the text as typed, zero-width characters included."""
    document = tokenise("it war\u200bps")

    assert document.quote(document.span(1, 1)) == "war\u200bps"


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("It warps. It strings.", 2),
        ("It warps.It strings.", 2),
        ("It warps! Why? Help", 3),
        ("It warps\nIt strings", 2),
        ("- warps\n- strings", 2),
        ("It warps approx. 2 mm", 1),
        ("layer height 0.2 mm", 1),
        ("The print was going well for quite a long time and then the\ncorners lifted", 1),
        ("It warps\n\n and strings", 2),
        ("<li>warps</li><li>strings</li>", 2),
        ("word " * 200, 3),
    ],
)
def test_tokens_are_split_into_sentences(text: str, count: int) -> None:
    """Full stops, lists and paragraphs end sentences; a wrapped line does not."""
    assert len(sentences(text)) == count


def test_tokens_leave_out_quoted_mail() -> None:
    """Lines quoted from an earlier letter are not the person's words."""
    document = tokenise("No.\n> Have any corners lifted?\n>> Is it warping?\nIt clicks.")

    assert list(document.words) == ["no", "it", "clicks"]


def test_tokens_stop_at_the_limit() -> None:
    """A longer text is cut, and the document says so."""
    document = tokenise("lift " * 20_000)

    assert document.cut
    assert document.ends[-1] <= READ_LIMIT
    assert not tokenise("lift").cut
