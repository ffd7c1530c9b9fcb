"""The language a report is written in: only English is read, and other words are not guessed at."""

import functools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.translation import get_language_info
from py3langid.langid import MODEL_FILE, LanguageIdentifier

from helpdesk.diagnosis.engine.knowledge import expert_knowledge
from triage.knowledge import KNOWLEDGE_FOLDER, load_stories
from triage.reading import READ_LIMIT

ENGLISH = "en"
LEAST_LETTERS = 40  # shorter texts count as English [judgement: desk, 2026-11-25]
LEAST_SURE = 0.95  # probability that it is not English [judgement: desk, 2026-11-25]
# Probability from which a language is named: its cousins share the rest
LEAST_NAMED = 0.5  # [judgement: desk, 2026-11-25]
UNNAMED = "another language"
# Share of the words that an English desk does not know, from which the language is asked for: names
# and slips of the pen alone do not make a text foreign [judgement: desk, 2026-11-25]
LEAST_UNKNOWN = 0.5
MOST_QUOTED = 60  # characters of a passage that a note quotes
_WORD = re.compile(r"[^\W\d_]+")
_PARAGRAPH = re.compile(r"(?:.+(?:\n|$))+")
_LINE = re.compile(r".+")


@dataclass(frozen=True)
class Passage:
    """A part of a text that is not English: its language and its characters."""

    language: str
    start: int
    end: int


@dataclass(frozen=True)
class Foreign:
    """What of a text is not English.

    `english` is the text with blanks in the place of other languages, so that places stay; it is
    "" where `is_all`, that is, where nothing of it is English.
    """

    text: str
    passages: Sequence[Passage]
    is_all: bool

    @property
    def english(self) -> str:
        """Return what is read."""
        if self.is_all:
            return ""
        letters = list(self.text)
        for passage in self.passages:
            for at in range(passage.start, passage.end):
                letters[at] = letters[at] if letters[at] == "\n" else " "
        return "".join(letters)

    @property
    def languages(self) -> tuple[str, ...]:
        """Return the names of the other languages, each once."""
        return tuple(dict.fromkeys(passage.language for passage in self.passages))


def find_foreign(text: str) -> Foreign:
    """Return what of a text is not English: paragraphs, lines, or all of it.

    Of a text that is foreign as a whole, only paragraphs that are plainly English are read.
    """
    whole = foreign_language(text)
    passages = tuple(_passages(text, whole))
    is_all = bool(whole) and sum(p.end - p.start for p in passages) >= len(text.strip())
    return Foreign(text, passages, is_all)


def english_of(text: str) -> str:
    """Return a text with blanks in the place of other languages, "" for one without English."""
    return find_foreign(text).english


def _passages(text: str, whole: str) -> Iterator[Passage]:
    """Yield the passages of a text that is in `whole`, "" for English, taken together."""
    if whole and not any(_is_plainly_english(part[0]) for part in _PARAGRAPH.finditer(text)):
        yield Passage(whole, 0, len(text))
        return
    for part in _PARAGRAPH.finditer(text, 0, READ_LIMIT):
        language = foreign_language(part[0])
        if not language and whole and not _is_plainly_english(part[0]):
            language = whole
        if language:
            yield Passage(language, part.start(), part.end())
            continue
        for line in _LINE.finditer(text, part.start(), part.end()):
            language = foreign_language(line[0])
            if language:
                yield Passage(language, line.start(), line.end())


def foreign_language(text: str) -> str:
    """Return the English name of the language of a text that is surely not English, else "".

    Short texts, names and misspelt English count as English: the language is only believed for
    at least LEAST_LETTERS letters, most of them in words no report, phrase or question of the
    knowledge holds, and a probability of LEAST_SURE that it is not English.
    """
    words = _words_of(text)
    if sum(map(len, words)) < LEAST_LETTERS or _is_mostly_known(words):
        return ""
    ranked = _identifier().rank(" ".join(words))
    english = sum(chance for code, chance in ranked if code == ENGLISH)
    if 1.0 - english < LEAST_SURE:
        return ""
    code, sureness = ranked[0]
    return _name_of(code) if sureness >= LEAST_NAMED else UNNAMED


def language_notes(text: str) -> list[str]:
    """Return a sentence for each part of a text that is not read for its language."""
    foreign = find_foreign(text)
    if foreign.is_all:
        return [f"Written in {foreign.languages[0]}; only English is read."]
    return [
        f"Partly written in {passage.language}; only English is read: “{_opening(text, passage)}”"
        for passage in foreign.passages
    ]


def _opening(text: str, passage: Passage) -> str:
    """Return how a passage begins."""
    words = " ".join(text[passage.start : passage.end].split())
    return words if len(words) <= MOST_QUOTED else f"{words[: MOST_QUOTED - 1].rstrip()}…"


def _words_of(text: str) -> list[str]:
    return _WORD.findall(text[:READ_LIMIT].casefold())


def _is_mostly_known(words: Sequence[str]) -> bool:
    """Return whether most of these words stand in the knowledge."""
    unknown = sum(word not in _english_words() for word in words)
    return unknown <= LEAST_UNKNOWN * len(words)


def _is_plainly_english(text: str) -> bool:
    """Return whether a part of a text is long enough to tell, and of known words."""
    words = _words_of(text)
    return sum(map(len, words)) >= LEAST_LETTERS and _is_mostly_known(words)


def _name_of(code: str) -> str:
    """Return the English name of a language by its ISO 639-1 code."""
    try:
        return str(get_language_info(code)["name"])
    except KeyError:
        return f"{UNNAMED} ({code})"


@functools.cache
def _identifier() -> LanguageIdentifier:
    """Return the identifier with its own model, read from the package once per process."""
    return LanguageIdentifier.from_model_file(MODEL_FILE, norm_probs=True)


@functools.cache
def _english_words() -> frozenset[str]:
    """Return the words of the knowledge: stories, phrases, names, questions and advice."""
    knowledge = expert_knowledge()
    texts = [story.text for story in load_stories(knowledge, KNOWLEDGE_FOLDER)]
    texts += [
        pattern
        for book in knowledge.phrases.values()
        for phrases in book.values()
        for pattern in (*phrases.present, *phrases.absent)
    ]
    for finding in knowledge.findings.values():
        texts += [finding.name, finding.question, finding.help]
    for fault in knowledge.faults.values():
        texts += [fault.name, fault.sign, fault.why]
    for action in knowledge.actions.values():
        texts += [action.name, action.how]
    return frozenset(_WORD.findall(" ".join(texts).casefold()))
