"""The language a report is written in: only English is read, and other words are not guessed at."""

import functools
import re

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
_WORD = re.compile(r"[^\W\d_]+")


def foreign_language(text: str) -> str:
    """Return the English name of the language of a text that is surely not English, else "".

    Short texts, names and misspelt English count as English: the language is only believed for
    at least LEAST_LETTERS letters, most of them in words no report, phrase or question of the
    knowledge holds, and a probability of LEAST_SURE that it is not English.
    """
    words = _WORD.findall(text[:READ_LIMIT].casefold())
    if sum(map(len, words)) < LEAST_LETTERS:
        return ""
    unknown = sum(word not in _english_words() for word in words)
    if unknown <= LEAST_UNKNOWN * len(words):
        return ""
    ranked = _identifier().rank(" ".join(words))
    english = sum(chance for code, chance in ranked if code == ENGLISH)
    if 1.0 - english < LEAST_SURE:
        return ""
    code, sureness = ranked[0]
    return _name_of(code) if sureness >= LEAST_NAMED else UNNAMED


def language_notes(text: str) -> list[str]:
    """Return a sentence where a text is not read for its language."""
    language = foreign_language(text)
    return [f"Written in {language}; only English is read."] if language else []


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
