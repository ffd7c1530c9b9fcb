"""Remedies the person says were tried, and what came of them."""

from bisect import bisect_left
from collections.abc import Iterable, Sequence

from triage.evidence import TriedRemedy, TriedResult
from triage.reading.patterns import Match
from triage.reading.scope import Scopes
from triage.reading.tokens import Document

_RESULTS: Sequence[tuple[str, TriedResult]] = (
    ("no-change", "no-change"),
    ("helped", "helped"),
    ("cured", "cured"),
)


def read_tried(
    document: Document, scopes: Scopes, matches: Iterable[Match], *, still_failing: bool
) -> tuple[TriedRemedy, ...]:
    """Return the remedies that were tried, each once, in the order of the text.

    Planned, asked about, recommended or denied remedies are left out. The result is taken from
    the first words about an outcome behind the remedy in its sentence, else before it in the
    sentence, else in the next sentence. Without such words the result is "no-change" when the
    report still complains of something (`still_failing`), as a remedy that had cured the print
    would have ended the complaint, and "unknown" otherwise.
    """
    done = [match for match in matches if _was_done(scopes, match)]
    starts = [match.first for match in done]
    found: dict[str, TriedRemedy] = {}
    for match in done:
        result = _result(document, scopes, match, starts)
        if result is None:
            result = "no-change" if still_failing else "unknown"
        span = document.span(match.first, match.last)
        remedy = TriedRemedy(match.target.id, result, document.quote(span), span)
        found.setdefault(match.target.id, remedy)
    return tuple(found.values())


def _was_done(scopes: Scopes, match: Match) -> bool:
    stance = scopes.stance(match)
    return not (stance.negated or stance.advice or stance.intended or stance.prevented)


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
