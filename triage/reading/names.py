"""Names people write: who made the material, and what the machine is called.

No list of names is kept. A name counts only where the words around it say that it is one ("brand
is …", "PLA by …", "my printer is a …"), and, but for "brand is", only when typed with a capital.
"""

from collections.abc import Iterator, Set
from typing import Final

from triage.reading.subject import WordFact
from triage.reading.tokens import Document

_STUFF: Final = frozenset({"filament", "resin", "spool", "roll", "plastic", "material"})
_MAKER_WORDS: Final = frozenset({"brand", "maker", "manufacturer"})
_MACHINE_WORDS: Final = frozenset({"printer", "machine"})
_SAYING: Final = frozenset({"is", "was", "called", "named", "its", "model", "name"})
_ARTICLES: Final = frozenset({"a", "an", "the", "my", "our", "this", "their", "his", "her"})
_NEVER: Final = frozenset(
    {"i", "im", "no", "not", "ok", "okay", "brand", "new", "old", "very", "still", "unknown"}
    | {"none", "fine", "dead", "bed", "nozzle", "it", "its", "he", "she", "we", "they", "and"}
    | {"temp", "temperature", "speed", "the", "a", "an", "my", "our", "home", "don", "dont", "any"}
    | {"january", "february", "march", "april", "may", "june", "july", "august", "september"}
    | {"october", "november", "december", "monday", "tuesday", "wednesday", "thursday", "friday"}
    | {"saturday", "sunday", "christmas", "layer", "material", "filament", "resin", "printer"}
    | {
        "machine",
        "some",
        "something",
        "same",
        "good",
        "bad",
        "cheap",
        "generic",
        "whatever",
        "what",
        "so",
    }
    | {"3d", "d", "settings", "help", "hi", "hello", "only", "always", "never", "when", "if"}
)
"""Words that are no name, however they are typed."""

_MOST_WORDS: Final = 4
_LONGEST_NAME: Final = 40


def read_maker(document: Document, *, spoken: Set[int], stuff: Set[int]) -> WordFact | None:
    """Return who made the material as written, or None.

    `spoken` are the words that name something known, which no name contains; `stuff` those of
    them that name a material.
    """
    words = document.words
    for at, word in enumerate(words):
        found = None
        if word in _MAKER_WORDS:
            found = _after_word(document, at, spoken, may_be_small=True)
        elif word in {"by", "from"} and _is_of_stuff(document, at, stuff):
            found = _name_at(document, at + 1, spoken, numbered=False)
        if found is not None:
            return found
    return None


def read_machine_name(document: Document, *, spoken: Set[int]) -> WordFact | None:
    """Return what the machine is called as written, or None."""
    for at, word in enumerate(document.words):
        if word in _MACHINE_WORDS:
            found = _after_word(document, at, spoken, may_be_small=False)
            found = found or _before_word(document, at, spoken)
            if found is not None:
                return found
    return None


def _is_of_stuff(document: Document, at: int, stuff: Set[int]) -> bool:
    """Whether the words before "by" or "from" are a material ("PLA by", "resin made by")."""
    place = at - 1
    if place >= 0 and document.words[place] in {"made", "is", "comes"}:
        place -= 1
    if place >= 0 and document.words[place] == "is":
        place -= 1
    near = [other for other in (place, place - 1) if other >= 0]
    near = [other for other in near if document.clauses[other] == document.clauses[at]]
    return any(other in stuff or document.words[other] in _STUFF for other in near)


def _after_word(
    document: Document, at: int, spoken: Set[int], *, may_be_small: bool
) -> WordFact | None:
    """Return the name in "brand is …", "Printer: …", "my machine is called …"."""
    words = document.words
    place = at + 1
    while place < len(words) and words[place] in _SAYING and place - at <= 3:
        place += 1
    gap = "".join(document.after[at:place]).strip()
    if gap not in {"", ":", "=", "-", '"'} or (place == at + 1 and not gap):
        return None
    said = "is" in words[at + 1 : place]
    if may_be_small and said and place < len(words) and words[place] not in _ARTICLES:
        return _name_at(document, place, spoken, numbered=False, may_be_small=True)
    while place < len(words) and words[place] in _ARTICLES and place - at <= 4:
        place += 1
    return _name_at(document, place, spoken, numbered=not may_be_small)


def _before_word(document: Document, at: int, spoken: Set[int]) -> WordFact | None:
    """Return the name in "my … printer"."""
    for start in range(max(0, at - _MOST_WORDS), at):
        if (
            document.words[start] in _ARTICLES
            and document.sentences[start] == document.sentences[at]
        ):
            found = _name_at(document, start + 1, spoken, numbered=True)
            if found is None or found.span is None or found.span[1] != document.ends[at - 1]:
                continue
            # Initials such as those of a process are no name of a machine.
            if not (found.value.isalpha() and found.value.isupper()):
                return found
    return None


def _name_at(
    document: Document,
    first: int,
    spoken: Set[int],
    *,
    numbered: bool,
    may_be_small: bool = False,
) -> WordFact | None:
    """Return the name that begins at a word, or None when none does."""
    last = first - 1
    for place in _run(document, first):
        if place in spoken or document.words[place] in _NEVER:
            break
        begins = document.text[document.starts[place]]
        number = numbered and place > first and document.words[place].isdecimal()
        small = (may_be_small and place == first) or (
            place > first and document.starts[place] == document.ends[place - 1]
        )
        if not (
            begins.isupper()
            or (number and _ends_name(document, place))
            or (small and begins.isalpha())
        ):
            break
        last = place
    if last < first:
        return None
    span = document.span(first, last)
    quote = document.quote(span)
    fits = len(document.words[first]) >= 2 and len(quote) <= _LONGEST_NAME
    if not fits or "\n" in quote or not quote[0].isalpha():
        return None
    return WordFact(quote, quote, span)


def _run(document: Document, first: int) -> Iterator[int]:
    """Yield the words from `first` that stand beside each other."""
    for place in range(first, min(first + 2 * _MOST_WORDS, len(document.words))):
        if place > first and document.after[place - 1] not in {"", " ", "-", " & "}:
            return
        yield place


def _ends_name(document: Document, place: int) -> bool:
    """Whether a whole number belongs to a name rather than to a unit or a pair behind it."""
    if document.after[place].startswith(("/", "°", "%", ".", "-")) and document.after[place] != ".":
        return False
    behind = document.words[place + 1 : place + 2]
    return behind not in (["mm"], ["c"], ["f"], ["°"], ["%"], ["h"], ["hours"], ["degrees"])
