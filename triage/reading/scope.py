"""How far negation, doubt and hearsay reach, and what that makes of each phrase found.

The rules, in the order in which they are applied to a phrase:

1. A negative word the phrase itself contains ("not sticking") belongs to the phrase.
2. A negative word denies the words after it up to a comma, a contrast ("but"), or a word that
   opens a new thought ("because", "so"); a list ("no gaps, strings or blobs") is one reach.
   A phrase that goes on behind the comma ("it does not fit, too tight") is not denied.
3. Phrases such as "not sure why" or "cannot stop the" hold a negative word but deny nothing.
4. "without", or a clause with "that" or "which", inside the reach of another negative word affirms
   ("cannot print without gaps", "never a print that had no gaps").
5. "is not a problem", "none", "gone", "ok" right behind a phrase deny it too, and so does "I have
   none of these" or "that is not what I get" at the end of its sentence; "cured the" before it.
6. Hedges and questions weaken; hearsay sets apart; what is feared or prevented does not count.
"""

from collections.abc import Container, Iterable, Sequence
from typing import NamedTuple

from triage.reading.patterns import Match
from triage.reading.stance import Stance
from triage.reading.tokens import Document
from triage.reading.turning_words import (
    DESCRIBED,
    NO_ANSWERS,
    OPENING_NEGATION,
    RECOVERY_WORDS,
    RELATIVE_WORDS,
    STOP_WORDS,
    SUBJECT_WORDS,
    VAGUE_NEGATION,
    WELL_ANSWERS,
)

NEGATION_REACH = 8
"""Words a denial reaches at most."""

DOUBT_REACH = 12
"""Words a hedge, hearsay or condition reaches at most."""

INTENT_REACH = 6
"""Words a plan or a question about a remedy reaches at most."""

WIDE_CUES = frozenset({"advice", "past"})
"""Cues that reach across commas to the end of their segment."""

NEAR = 3
"""Words between a phrase and a denial behind it at most."""

LIST_ITEM = 4
"""Words one item of a negated list may have."""


class Reach(NamedTuple):
    """A cue and the words it bears on: from `start` up to, not including, `stop`.

    From `joined` on they are only reached over an "and" ("no gaps and blobs").
    """

    cue: Match
    start: int
    stop: int
    joined: int

    def covers(self, words: Iterable[int]) -> bool:
        """Whether any of the words lies in the reach and none of them is the cue itself."""
        inside = False
        for word in words:
            if word in self.cue.words:
                return False
            inside = inside or self.start <= word < self.stop
        return inside


class Scopes:
    """The reach of every cue in one document.

    Parameters
    ----------
    document : Document
        The text.
    cues : iterable of Match
        The cues found in it.
    """

    def __init__(self, document: Document, cues: Iterable[Match]) -> None:
        self._document = document
        self._cues: dict[str, list[Match]] = {}
        self._in_sentence: dict[tuple[str, int], list[Match]] = {}
        for cue in cues:
            name = cue.target.id
            self._cues.setdefault(name, []).append(cue)
            sentence = document.sentences[cue.last]
            self._in_sentence.setdefault((name, sentence), []).append(cue)
        self._cancels = self._find_cancels()
        self._negations = self._find_negations()
        self._reaches = {
            name: [self._forward(cue) for cue in self.cues(name)]
            for name in ("hedge", "advice", "conditional", "intent", "past", "preventive")
        }
        self._by_word = self._spread()

    def cues(self, name: str) -> Sequence[Match]:
        """Return the cues of one kind in the order of the text."""
        return self._cues.get(name, ())

    def cues_beside(self, name: str, word: int) -> Sequence[Match]:
        """Return the cues of one kind in the sentence of a word."""
        return self._in_sentence.get((name, self._document.sentences[word]), ())

    def stance(self, match: Match) -> Stance:
        """Return what the surroundings make of a phrase."""
        reaches = {
            (name, reach)
            for word in match.words
            for name, reach in self._by_word.get(word, ())
            if reach.covers(match.words)
        }
        names = {name for name, _ in reaches}
        denials = [
            reach
            for name, reach in reaches
            if name == "negation"
            and not self._is_cancelled(reach.cue, match)
            and not self._goes_beyond(reach, match)
        ]
        flat = [reach for reach in denials if self._is_flat(reach, match)]
        past = "past" in names
        over = past and (self._used_to(match) or self._is_otherwise_now(match))
        resolved = over or self._is_resolved(match)
        denied_behind = self._is_denied_behind(match)
        asked = self._is_asked(match) and not denied_behind
        return Stance(
            negated=_denies(self._document, denials) or denied_behind or self._is_dismissed(match),
            flatly_negated=_denies(self._document, flat) or denied_behind,
            resolved=resolved,
            hedged=bool(names & {"hedge", "conditional"}) or past or asked,
            advice="advice" in names,
            prevented="preventive" in names,
            intended="intent" in names or asked,
            conditional="conditional" in names,
        )

    def _spread(self) -> dict[int, list[tuple[str, Reach]]]:
        """File every reach under the words it covers; each reach is short."""
        spread: dict[int, list[tuple[str, Reach]]] = {}
        named = [("negation", reach) for reach in self._negations]
        named += [(name, reach) for name, found in self._reaches.items() for reach in found]
        for name, reach in named:
            for word in range(reach.start, reach.stop):
                spread.setdefault(word, []).append((name, reach))
        return spread

    def _find_negations(self) -> list[Reach]:
        return [
            self._denial(cue, is_noun=name == "noun-negation")
            for name in ("noun-negation", "verb-negation")
            for cue in self.cues(name)
        ]

    def _find_cancels(self) -> dict[int, list[Match]]:
        """File the phrases that deny nothing under their words."""
        kept = {word for cue in self.cues("still-negation") for word in cue.words}
        filed: dict[int, list[Match]] = {}
        for cue in self.cues("not-negation"):
            if kept.isdisjoint(cue.words):
                for word in cue.words:
                    filed.setdefault(word, []).append(cue)
        return filed

    def _is_cancelled(self, denial: Match, match: Match) -> bool:
        """Whether a negative word belongs to a phrase that denies nothing.

        In "did not change the nozzle" the words "not change" are about the phrase itself, so
        there the denial stands.
        """
        return any(
            set(match.words).isdisjoint(cancel.words)
            for word in denial.words
            for cancel in self._cancels.get(word, ())
        )

    def _goes_beyond(self, reach: Reach, match: Match) -> bool:
        """Whether a phrase that begins behind a denial runs out of its reach over a comma."""
        clauses = self._document.clauses
        return (
            reach.cue.last < match.first
            and match.last >= reach.stop
            and clauses[match.last] != clauses[reach.stop - 1]
        )

    def _is_flat(self, reach: Reach, match: Match) -> bool:
        vague = VAGUE_NEGATION.intersection(self._document.words[word] for word in reach.cue.words)
        return not vague and match.first < reach.joined

    def _denial(self, cue: Match, *, is_noun: bool) -> Reach:
        """Return how far a negative word reaches."""
        words, segments = self._document.words, self._document.segments
        start = at = cue.last + 1
        joined = len(words)
        while at < len(words) and at - start < NEGATION_REACH:
            if segments[at] != segments[cue.last]:
                break
            if at > start and words[at] in STOP_WORDS:
                break
            if at > start and is_noun and words[at] in SUBJECT_WORDS:
                break
            if words[at] == "and":
                if not is_noun or not self._ends_soon(at):
                    break
                joined = min(joined, at)
            if at > start and self._is_comma(at) and not self._continues_list(at):
                break
            if at == start and self._is_comma(at) and words[cue.last] in NO_ANSWERS:
                break  # "No, the corners lift"
            at += 1
        return Reach(cue, start, at, joined)

    def _is_comma(self, at: int) -> bool:
        return self._document.clauses[at] != self._document.clauses[at - 1]

    def _continues_list(self, at: int) -> bool:
        """Whether the comma before word `at` separates items of an "or" list."""
        words = self._document.words
        stop = min(at + 2 * LIST_ITEM, len(words))
        since_comma = 0
        for place in range(at, stop):
            if self._document.segments[place] != self._document.segments[at]:
                return False
            if words[place] in OPENING_NEGATION:
                return True
            since_comma = 0 if place > at and self._is_comma(place) else since_comma + 1
            if since_comma > LIST_ITEM or words[place] in SUBJECT_WORDS | {"no", "and"}:
                return False
        return False

    def _ends_soon(self, at: int) -> bool:
        """Whether the clause ends within two words after the "and" at `at`."""
        words, clauses = self._document.words, self._document.clauses
        following = words[at + 1 : at + 4]
        if set(following) & (SUBJECT_WORDS | {"the", "then", "my", "now"}):
            return False
        last = at + 3
        return last >= len(words) or clauses[last] != clauses[at]

    def _forward(self, cue: Match) -> Reach:
        """Return the reach of a cue that is no denial."""
        first, stop = self._document.segment_range(cue.last)
        name = cue.target.id
        if name == "hedge" and cue.last == stop - 1:  # "…, I think"
            return Reach(cue, max(first, cue.first - DOUBT_REACH), stop, stop)
        start = cue.last + 1
        if name not in WIDE_CUES:
            stop = self._clause_end(start, stop)
        if name == "intent":
            stop = self._thought_end(start, min(stop, start + INTENT_REACH))
        return Reach(cue, start, min(stop, start + DOUBT_REACH), stop)

    def _clause_end(self, at: int, stop: int) -> int:
        clauses = self._document.clauses
        end = at
        while end < stop and clauses[end] == clauses[at]:
            end += 1
        return end

    def _thought_end(self, at: int, stop: int) -> int:
        end = at
        while end < stop and self._document.words[end] not in STOP_WORDS:
            end += 1
        return end

    def _is_asked(self, match: Match) -> bool:
        """Whether the phrase stands in a question that does not take it for granted."""
        if not self._document.ends_in_question(match.last):
            return False
        return not self.cues_beside("factive-question", match.last)

    def _is_denied_behind(self, match: Match) -> bool:
        return self._is_answered(match, NO_ANSWERS) or self._has_behind(match, "post-negation")

    def _is_dismissed(self, match: Match) -> bool:
        """Whether "I have none of these" ends the sentence, or "Not that I know" answers it."""
        return self._is_question_denied(match) or any(
            cue.first > match.last and self._ends_clause(cue.last)
            for cue in self.cues_beside("dismissal", match.last)
        )

    def _is_question_denied(self, match: Match) -> bool:
        """Whether the next sentence answers "no" or "not that I can see"."""
        document = self._document
        if not document.ends_in_question(match.last):
            return False
        answer = document.sentence_range(match.last)[1]
        following = document.words[answer : answer + 2]
        if list(following) == ["not", "that"]:
            return True
        alone = bool(following) and bool(document.after[answer].strip())
        return alone and following[0] in NO_ANSWERS

    def _is_otherwise_now(self, match: Match) -> bool:
        """Whether "today it doesn't" or the like stands later in the sentence."""
        return any(
            cue.first > match.last and self._ends_clause(cue.last)
            for cue in self.cues_beside("not-now", match.last)
        )

    def _ends_clause(self, word: int) -> bool:
        clauses = self._document.clauses
        return word + 1 == len(clauses) or clauses[word + 1] != clauses[word]

    def _is_answered(self, match: Match, answers: Container[str]) -> bool:
        """Whether one of the answers stands alone right behind the phrase."""
        after = self._document.after
        return self._stands_alone_behind(match, answers) and bool(after[match.last].strip())

    def _stands_alone_behind(self, match: Match, answers: Container[str]) -> bool:
        words, after = self._document.words, self._document.after
        answer = match.last + 1
        if answer >= len(words) or words[answer] not in answers:
            return False
        return answer + 1 == len(words) or bool(after[answer].strip())

    def _has_behind(self, match: Match, name: str) -> bool:
        if self._document.after[match.last].strip(" :-=\t"):
            return False
        return any(
            0 < cue.first - match.last <= NEAR and not self.describes(cue.last)
            for cue in self.cues_beside(name, match.last)
        )

    def describes(self, word: int) -> bool:
        """Whether a word of praise only describes the next word ("there are fine hairs")."""
        document = self._document
        if document.words[word] not in WELL_ANSWERS or word + 1 == len(document.words):
            return False
        goes_on = not document.after[word].strip()
        return goes_on and document.words[word + 1] in DESCRIBED

    def _is_cured_before(self, match: Match) -> bool:
        """Whether "cured the", "got rid of my" stands right before the phrase."""
        return any(
            0 < match.first - cue.last <= NEAR
            and self._document.clauses[cue.last] == self._document.clauses[match.first]
            and self.is_real_cure(cue)
            for cue in self.cues_beside("cures", match.first)
        )

    def _is_resolved(self, match: Match) -> bool:
        """Whether the phrase is said to be over, right behind it or later in the sentence."""
        if any(self._document.words[word] in RECOVERY_WORDS for word in match.words):
            return False
        if any(cue.first > match.last for cue in self.cues_beside("returned", match.last)):
            return False
        if self._has_behind(match, "post-resolved") or self._is_cured_before(match):
            return True
        if self._stands_alone_behind(match, WELL_ANSWERS):
            return True
        segments = self._document.segments
        return any(
            cue.first > match.last
            and segments[cue.first] - segments[match.last] <= 1
            and self.is_real_cure(cue)
            for cue in self.cues_beside("cured", match.last)
        )

    def is_real_cure(self, cured: Match) -> bool:
        """Whether a word of success is neither denied nor limited to a time."""
        limited = any(cue.last >= cured.first for cue in self.cues_beside("helped", cured.last))
        failed = any(
            set(cue.words) & set(cured.words) for cue in self.cues_beside("no-change", cured.last)
        )
        denied = any(
            name in {"intent", "conditional"}
            or (name == "negation" and not self._is_cancelled(reach.cue, cured))
            for word in cured.words
            for name, reach in self._by_word.get(word, ())
        )
        return not (limited or failed or denied)

    def _used_to(self, match: Match) -> bool:
        """Whether "used to" stands before the phrase in its segment."""
        words, segments = self._document.words, self._document.segments
        return any(
            cue.first < match.last
            and words[cue.first] == "used"
            and segments[cue.first] == segments[match.last]
            for cue in self.cues_beside("past", match.last)
        )


def _denies(document: Document, denials: Sequence[Reach]) -> bool:
    """Whether the denials that reach a phrase deny it; one in a clause of another affirms."""
    places = {reach.cue.last for reach in denials}
    if len(places) > 1:
        between = document.words[min(places) + 1 : max(places) + 1]
        if RELATIVE_WORDS.intersection(between):
            return len(places) % 2 == 1
    return bool(places)
