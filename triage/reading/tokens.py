"""Messy text to words with places: the reader's view of what a person wrote.

The text is lower-cased and normalised into a working copy in which every character remembers
where it came from, so that any stretch of words can be quoted exactly as it was typed.
"""

import html
import re
import unicodedata
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from triage.reading.letters import blank_quoted
from triage.reading.spelling import MEANT

READ_LIMIT = 50_000
"""Characters that are read; a longer text is cut there and the reading says so."""

LONGEST_WORD = 40
"""Characters; anything longer is code, a key or an encoded file, not a word."""

LONGEST_SENTENCE = 80
"""Words; a longer run without a full stop is broken here, which keeps all searching linear."""

WRAPPED_LINE = 50
"""Characters; a line at least this long may have been wrapped in the middle of a sentence."""

CONTRAST_WORDS = frozenset(
    {"but", "although", "though", "however", "except", "whereas", "otherwise", "nevertheless"}
)
"""Words after which a statement no longer belongs to what stood before."""

ABBREVIATIONS = frozenset(
    {"approx", "ca", "cf", "deg", "dia", "e", "eg", "etc", "g", "i", "ie", "incl", "max", "min"}
    | {"temp", "temps", "vs"}
)
"""Words whose full stop does not end a sentence when a small letter or digit follows."""

_WORD = re.compile(
    r"[^\W\d_]+(?:'[^\W\d_]+)*|\d+(?:[.,]\d+)*|(?<![\w.,])[.,]\d+|[%°]",
)
_ENCODED = re.compile(r"[A-Za-z0-9+/=_-]{50,}")
_ADDRESS = re.compile(r"(?:https?://|www\.)\S+|\S{1,64}@(?!\d{2,3}(?![\w.]))\S{1,255}")
_BLOCK_TAG = re.compile(r"</?(?:p|br|li|ul|ol|div|h[1-6]|tr|table|blockquote)\b[^<>]{0,300}>", re.I)
_OTHER_TAG = re.compile(r"</?[a-z!][^<>]{0,300}>", re.I)
_ENTITY = re.compile(r"&(?:#\d{1,7}|#x[0-9a-f]{1,6}|[a-z]{2,10});", re.I)

# Compatibility forms lose their sense in these characters, so they are replaced first.
_PLAIN = {
    "\u2018": "'",
    "\u2019": "'",
    "\u02bc": "'",
    "\u00b4": "'",
    "`": "'",
    "\u201c": '"',
    "\u201d": '"',
    "\u2033": '"',
    "\u00ba": "°",
    "\u02da": "°",
    "\u00d7": "x",
    "\u2010": "-",
    "\u2011": "-",
    "\u2012": "-",
    "\u2013": "-",
    "\u2014": " - ",
    "\u2212": "-",
    "\u00bc": ".25",
    "\u00bd": ".5",
    "\u00be": ".75",
    "\u2028": "\n",
    "\u2029": "\n\n",
    "\r": " ",
    "\u00df": "ss",
}


@dataclass(frozen=True, slots=True)
class Document:
    """A text as words with places; all sequences run parallel to `words`.

    Parameters
    ----------
    text : str
        The text as it was given.
    words : sequence of str
        Lower-case words, numbers, "%" and "°"; apostrophes are left out ("isnt").
    starts, ends : sequence of int
        Character offsets of each word in `text`.
    after : sequence of str
        What stands between a word and the next one, in normalised form.
    sentences : sequence of int
        Number of the sentence each word is in.
    segments : sequence of int
        Number of the clause between hard breaks (sentence end, semicolon, dash, contrast word).
    clauses : sequence of int
        Number of the clause between any breaks (also comma, colon, bracket).
    cut : bool
        Whether the text was longer than READ_LIMIT.
    quoted : bool
        Whether it holds somebody else's letter, which is left out.
    """

    text: str
    words: Sequence[str]
    starts: Sequence[int]
    ends: Sequence[int]
    after: Sequence[str]
    sentences: Sequence[int]
    segments: Sequence[int]
    clauses: Sequence[int]
    cut: bool
    quoted: bool

    def span(self, first: int, last: int) -> tuple[int, int]:
        """Return the character span from word `first` to word `last`, both included."""
        return self.starts[first], self.ends[last]

    def quote(self, span: tuple[int, int]) -> str:
        """Return the text of a span as it was typed."""
        return self.text[span[0] : span[1]]

    def sentence_range(self, index: int) -> tuple[int, int]:
        """Return the first word and the one past the last of the sentence of word `index`."""
        return _run_around(self.sentences, index)

    def segment_range(self, index: int) -> tuple[int, int]:
        """Return the first word and the one past the last of the segment of word `index`."""
        return _run_around(self.segments, index)

    def ends_in_question(self, index: int) -> bool:
        """Whether the sentence of word `index` ends in a question mark."""
        return "?" in self.after[self.sentence_range(index)[1] - 1]


def _run_around(numbers: Sequence[int], index: int) -> tuple[int, int]:
    # The numbers only rise, so both ends of the run are found by halving.
    number = numbers[index]
    return bisect_right(numbers, number - 1), bisect_right(numbers, number)


def plain_word(word: str) -> str:
    """Return a lower-case word as it is read.

    Possessive endings and apostrophes go, ".4" becomes "0.4", and slips of the pen are mended.
    """
    if word[0] in ".,":
        return f"0.{word[1:]}"
    if "'" in word:
        word = word.removesuffix("'s").replace("'", "")
    return MEANT.get(word, word)


def split_words(text: str) -> list[str]:
    """Return the words of a short text such as a material's name."""
    normal, _, _ = _normalise(text)
    return [plain_word(match.group()) for match in _WORD.finditer(normal)]


def clean_words(text: str) -> list[str]:
    """Return the words of a text that is prose, without what is none: addresses, code, quotes."""
    normal, _, _ = _normalise(_blank_noise(blank_quoted(text)[0]))
    return [
        plain_word(match.group())
        for match in _WORD.finditer(normal)
        if match.end() - match.start() <= LONGEST_WORD
    ]


def tokenise(text: str) -> Document:
    """Return `text` as a `Document`; never raises and takes time linear in the length."""
    kept = text[:READ_LIMIT]
    own, quoted = blank_quoted(kept)
    normal, starts_at, ends_at = _normalise(_blank_noise(own))
    words: list[str] = []
    places: list[tuple[int, int]] = []
    for match in _WORD.finditer(normal):
        if match.end() - match.start() <= LONGEST_WORD:
            words.append(plain_word(match.group()))
            places.append(match.span())
    nexts = [start for start, _ in places[1:]] + [len(normal)]
    after = [normal[end:start] for (_, end), start in zip(places, nexts, strict=False)]
    starts = [starts_at[start] if starts_at else start for start, _ in places]
    ends = [ends_at[end - 1] if ends_at else end for _, end in places]
    sentences, segments, clauses = _number_breaks(words, after, kept, starts)
    cut = len(text) > READ_LIMIT
    return Document(text, words, starts, ends, after, sentences, segments, clauses, cut, quoted)


def _blank_noise(text: str) -> str:
    """Overwrite what is no prose with blanks of the same length."""
    if "<" in text:
        text = _BLOCK_TAG.sub(lambda match: "\n\n".ljust(len(match.group())), text)
        text = _OTHER_TAG.sub(lambda match: " " * len(match.group()), text)
    if "@" in text or "://" in text or "www." in text:
        text = _ADDRESS.sub(lambda match: " " * len(match.group()), text)
    return _ENCODED.sub(lambda match: ";".ljust(len(match.group())), text)


def _normalise(text: str) -> tuple[str, list[int], list[int]]:
    """Return the working copy and, unless it is one to one, where its characters come from."""
    if text.isascii() and "&" not in text and "`" not in text and "\r" not in text:
        return text.lower(), [], []
    pieces: list[str] = []
    starts: list[int] = []
    ends: list[int] = []
    known: dict[str, str] = {}
    for start, piece in _pieces(text):
        normal = known.get(piece)
        if normal is None:
            normal = known[piece] = _normalise_piece(piece)
        pieces.append(normal)
        starts.extend([start] * len(normal))
        ends.extend([start + len(piece)] * len(normal))
    return "".join(pieces), starts, ends


def _pieces(text: str) -> Iterator[tuple[int, str]]:
    """Yield the characters of `text`, an HTML entity as one, each with its place."""
    at = 0
    entities = _ENTITY.finditer(text) if "&" in text else iter(())
    for entity in entities:
        yield from enumerate(text[at : entity.start()], start=at)
        yield entity.start(), entity.group()
        at = entity.end()
    yield from enumerate(text[at:], start=at)


def _normalise_piece(piece: str) -> str:
    if len(piece) > 1:
        piece = html.unescape(piece)
    return "".join(_normalise_character(character) for character in piece)


def _normalise_character(character: str) -> str:
    if character == "\n":
        return character
    if character in _PLAIN:
        return _PLAIN[character]
    category = unicodedata.category(character)
    if category in {"Cf", "Mn", "Me"}:  # zero-width marks and accents typed apart
        return ""
    if category in {"Cc", "Cs", "Co", "Cn"}:
        return " "
    # Accents are dropped so that "décollé" and "decolle" are one word.
    parts = unicodedata.normalize("NFKD", character).lower()
    return "".join(part for part in parts if unicodedata.category(part) != "Mn")


def _number_breaks(
    words: Sequence[str], after: Sequence[str], text: str, starts: Sequence[int]
) -> tuple[list[int], list[int], list[int]]:
    """Return sentence, segment and clause numbers of every word."""
    sentences: list[int] = []
    segments: list[int] = []
    clauses: list[int] = []
    sentence = segment = clause = 0
    line_start = sentence_start = 0
    for index, word in enumerate(words):
        gap = after[index - 1] if index else ""
        first = text[starts[index]]
        line = starts[index - 1] - line_start if index else 0
        if index and (
            _ends_sentence(words[index - 1], gap, first, line)
            or index - sentence_start >= LONGEST_SENTENCE
        ):
            sentence, segment, clause = sentence + 1, segment + 1, clause + 1
            sentence_start = index
        elif index and (_is_hard(gap) or word in CONTRAST_WORDS):
            segment, clause = segment + 1, clause + 1
        elif any(mark in gap for mark in ",:()[]"):
            clause += 1
        if "\n" in gap:
            line_start = starts[index]
        sentences.append(sentence)
        segments.append(segment)
        clauses.append(clause)
    return sentences, segments, clauses


def _is_hard(gap: str) -> bool:
    return ";" in gap or " - " in gap or "--" in gap or "|" in gap


def _ends_sentence(word: str, gap: str, first: str, line: int) -> bool:
    """Whether the gap after `word` ends a sentence.

    `first` is the character that begins the next word, `line` how far the line had come.
    """
    if gap in {" ", ""}:
        return False
    if "!" in gap or "?" in gap or "…" in gap:
        return True
    if "." in gap:
        return word not in ABBREVIATIONS or first.isupper() or gap.count(".") > 1
    if "\n" not in gap:
        return False
    if gap.count("\n") > 1 or gap.strip() or not (first.islower() or first.isdigit()):
        return True
    return line < WRAPPED_LINE
