"""Remedies the person says were tried, and what came of them."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence

from triage.evidence import TriedRemedy, TriedResult
from triage.knowledge import ANY_PROCESS
from triage.reading.patterns import Match
from triage.reading.scope import Scopes
from triage.reading.tokens import Document

LIST_ITEM = 8
"""Words one line of a list of things tried may have."""

HEADING = 6
"""Words a heading without a colon may have ("What I did so far")."""

OWN_SUBJECTS = frozenset({"i", "ive", "we", "weve", "im"})
"""Words that begin a statement of the person's own within a question to others."""

SUMS = frozenset({"nothing", "none", "neither", "all", "everything", "any", "still", "same"})
"""First words of a sentence below a list that tells what came of all of it."""

MOST_BETWEEN = 1
"""Words that may stand inside a phrase that takes the place of a shorter one it contains."""

ASKING = frozenset(
    {"do", "does", "did", "is", "are", "was", "can", "could", "should", "shall", "would", "will"}
    | {"has", "have", "may", "might", "must"}
)
"""Words that open a question to be answered with yes or no."""

SUPPOSING = frozenset({"would", "will", "might", "could", "should", "can"})
"""Words that make a condition a thing only imagined ("if I slow it down, would it stop")."""

_RESULTS: Sequence[tuple[str, TriedResult]] = (
    ("no-change", "no-change"),
    ("helped", "helped"),
    ("cured", "cured"),
)


def read_tried(
    document: Document,
    scopes: Scopes,
    matches: Iterable[Match],
    *,
    process_of: Mapping[str, str],
    still_failing: bool,
) -> tuple[TriedRemedy, ...]:
    """Return the remedies that were tried, each once, in the order of the text.

    Planned, asked about, recommended or denied remedies are left out, and so is a bare name where
    nothing tells of a trial. A phrase whose words are all part of a longer one about another
    remedy of the same process ("new hotend" in "new hotend fan") does not count either;
    `process_of` gives the process of remedies that belong to one. The result is taken from
    the first words about an outcome behind the remedy in its sentence, else before it in the
    sentence, else in the next sentence. Without such words the result is "no-change" when the
    report still complains of something (`still_failing`), as a remedy that had cured the print
    would have ended the complaint, and "unknown" otherwise.
    """
    matches = tuple(matches)
    listed = _listed_sentences(document, scopes) if matches else frozenset()
    told = [
        match
        for match in matches
        if _runs_on(document, match)
        and _was_done(document, scopes, match)
        and (match.target.side != "named" or _is_trial(document, scopes, match, listed))
    ]
    done = list(_outermost(told, process_of))
    starts = [match.first for match in done]
    found: dict[str, TriedRemedy] = {}
    for match in done:
        result = _result(document, scopes, match, starts) or _result_of_list(
            document, scopes, match, listed
        )
        if result is None:
            result = "no-change" if still_failing else "unknown"
        span = document.span(match.first, match.last)
        remedy = TriedRemedy(match.target.id, result, document.quote(span), span)
        found.setdefault(match.target.id, remedy)
    return tuple(found.values())


def _runs_on(document: Document, match: Match) -> bool:
    """Whether a phrase stays inside one item of a list ("new nozzle, new plate" is two)."""
    return document.clauses[match.first] == document.clauses[match.last]


def _was_done(document: Document, scopes: Scopes, match: Match) -> bool:
    stance = scopes.stance(match)
    if stance.negated or stance.advice or stance.intended or stance.prevented:
        return False
    if stance.conditional and _is_imagined(document, scopes, match):
        return False
    if any(_is_put_off(document, cue, match) for cue in scopes.cues_beside("later", match.last)):
        return False
    return not _is_for_others(document, scopes, match)


def _is_put_off(document: Document, later: Match, match: Match) -> bool:
    """Whether words about the future stand beside a phrase or head its list ("next up: …")."""
    if document.clauses[later.first] == document.clauses[match.last]:
        return True
    return any(":" in document.after[at] for at in range(later.first, match.first))


def _is_imagined(document: Document, scopes: Scopes, match: Match) -> bool:
    """Whether a condition is supposed, not met: "even if I slow it down it still rings" is met."""
    first, stop = document.sentence_range(match.last)
    if document.ends_in_question(match.last) or SUPPOSING.intersection(document.words[first:stop]):
        return True
    return not _outcomes(scopes, match.last, match.last + 1, stop)


def _is_for_others(document: Document, scopes: Scopes, match: Match) -> bool:
    """Whether the phrase belongs to a question what others do ("what brim width do you use?")."""
    if not document.ends_in_question(match.last):
        return False
    first, _ = document.sentence_range(match.last)
    if document.words[first] in ASKING and first < match.first:
        return OWN_SUBJECTS.isdisjoint(document.words[first + 1 : match.first])
    before = [cue.last for cue in scopes.cues_beside("asks-others", match.last)]
    asked = [at for at in before if at < match.last]
    if asked:
        between = document.words[asked[-1] + 1 : match.first]
        return OWN_SUBJECTS.isdisjoint(between)
    return bool(before) and OWN_SUBJECTS.isdisjoint(document.words[first : match.last])


def _is_trial(document: Document, scopes: Scopes, match: Match, listed: frozenset[int]) -> bool:
    """Whether the words around a bare name tell that the remedy was tried."""
    if document.sentences[match.last] in listed:
        return True
    if any(cue.first < match.first for cue in scopes.cues_beside("trial", match.last)):
        return True
    first, stop = document.sentence_range(match.last)
    if _outcomes(scopes, match.last, first, stop):
        return True
    if stop - first > HEADING or stop == len(document.words):
        return False
    _, next_stop = document.sentence_range(stop)  # "New nozzle. No difference."
    return next_stop - stop <= HEADING and bool(_outcomes(scopes, stop, stop, next_stop))


def _listed_sentences(document: Document, scopes: Scopes) -> frozenset[int]:
    """Return the sentences that are items of a list below a heading such as "Tried so far:"."""
    found: set[int] = set()
    in_list = False
    at = 0
    while at < len(document.words):
        _, stop = document.sentence_range(at)
        end = document.after[stop - 1]
        is_heading = ":" in end or ("\n" in end and stop - at <= HEADING)
        if is_heading and _tells_of_trial(scopes, at):
            in_list = True
        elif in_list and stop - at <= LIST_ITEM and not _sums_up(document, at):
            found.add(document.sentences[at])
        else:
            in_list = False
        at = stop
    return frozenset(found)


def _sums_up(document: Document, first: int) -> bool:
    """Whether a sentence below a list speaks of all of it ("nothing helped")."""
    return document.words[first] in SUMS


def _tells_of_trial(scopes: Scopes, word: int) -> bool:
    trials = scopes.cues_beside("trial", word)
    return any(not (stance := scopes.stance(cue)).negated and not stance.intended for cue in trials)


def _outermost(matches: Sequence[Match], process_of: Mapping[str, str]) -> Iterator[Match]:
    """Yield the matches that are no part of a longer running phrase about another remedy."""
    holders: dict[int, list[Match]] = {}
    for match in matches:
        for word in match.words:
            holders.setdefault(word, []).append(match)
    for match in matches:
        words = set(match.words)
        if not any(
            other.target.id != match.target.id
            and words < set(other.words)
            and other.last - other.first < len(other.words) + MOST_BETWEEN
            and _go_together(process_of, match, other)
            for other in holders[match.first]
        ):
            yield match


def _go_together(process_of: Mapping[str, str], one: Match, two: Match) -> bool:
    processes = {process_of.get(match.target.id, ANY_PROCESS) for match in (one, two)}
    return len(processes - {ANY_PROCESS}) <= 1


def _result(
    document: Document, scopes: Scopes, match: Match, starts: Sequence[int]
) -> TriedResult | None:
    """Return the outcome told of a remedy; `starts` are the first words of all remedies."""
    first, stop = document.sentence_range(match.last)
    behind = _outcomes(scopes, match.last, match.last + 1, stop)
    if behind:
        return behind[0]
    before = _outcomes(scopes, match.last, first, match.first)
    if before:
        return before[-1]
    if stop < len(document.words):
        # What the next sentence tells behind a remedy of its own belongs to that remedy.
        place = bisect_left(starts, stop)
        own = starts[place] if place < len(starts) else len(document.words)
        _, next_stop = document.sentence_range(stop)
        later = _outcomes(scopes, stop, stop, min(next_stop, own))
        if later:
            return later[0]
    return None


def _result_of_list(
    document: Document, scopes: Scopes, match: Match, listed: frozenset[int]
) -> TriedResult | None:
    """Return the outcome told of a whole list in the sentence below it ("Nothing helped")."""
    if document.sentences[match.last] not in listed:
        return None
    _, at = document.sentence_range(match.last)
    while at < len(document.words) and document.sentences[at] in listed:
        _, stop = document.sentence_range(at)
        at = stop
    if at == len(document.words):
        return None
    told = _outcomes(scopes, at, *document.sentence_range(at))
    return told[0] if told else None


def _outcomes(scopes: Scopes, sentence_word: int, start: int, stop: int) -> list[TriedResult]:
    """Return the outcomes named between two words of a sentence, in order."""
    found: list[tuple[int, int, TriedResult]] = []
    for rank, (name, result) in enumerate(_RESULTS):
        for cue in scopes.cues_beside(name, sentence_word):
            if not start <= cue.first < stop:
                continue
            if name == "cured" and not scopes.is_real_cure(cue):
                continue
            found.append((cue.first, rank, result))
    return [result for _, _, result in sorted(found)]
