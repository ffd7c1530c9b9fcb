"""How reliable single phrases are, counted from readings that people judged.

A phrase is what a reading rests on: the stems of the words that filled its pattern. Counts are kept
for each phrase with what was read by it and how it was said, so that they outlive changes of the
patterns. They are learnt anew from all judgements, see docs/reading.md.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final, NamedTuple, Self

from triage.errors import InputError
from triage.evidence import Observation, Span
from triage.reading.features import NUMBER, stem
from triage.reading.patterns import Match
from triage.reading.tokens import Document

if TYPE_CHECKING:
    from triage.reading.reader import Reading

# Judged readings that what the experts say of a phrase counts as [judgement: desk, 2026-11-25]
PRIOR_WEIGHT: Final = 10.0
# The same for a circumstance, a remedy or a guess, which have no likelihood pair: nine in ten are
# taken to be read rightly [judgement: desk, 2026-11-25]
PRIOR_SHARE: Final = 0.9
LEAST_SHARE: Final = 0.5  # the words say nothing; a misreading is no sign of the contrary
# Share above which confirmations lift no phrase: that the words were understood does not show that
# the person names the thing rightly [judgement: desk, 2026-11-25]
MOST_SHARE: Final = 0.975
SURE_FROM: Final = 0.8  # share from which a statement is a plain one
FORMAT: Final = 1  # of the file

FINDING, RISK, TRIED, GUESS = "finding", "risk", "tried", "guess"


class PhraseKey(NamedTuple):
    """A phrase with what was read by it.

    `kind` is "finding", "risk", "tried" or "guess" and `id` what it is; `manner` is the state of
    a finding, with ", unsure" behind it where it was hedged, and "" for the other kinds. `phrase`
    holds the stems of the words, numbers as "#".
    """

    kind: str
    id: str
    manner: str
    phrase: str


@dataclass(frozen=True, slots=True)
class Tally:
    """How often a phrase was read rightly and wrongly; weak judgements count as parts of one."""

    right: float = 0.0
    wrong: float = 0.0


@dataclass(frozen=True, slots=True)
class Judgement:
    """One reading that was judged, and how much the judgement counts: 1 for a plain word."""

    key: PhraseKey
    is_right: bool
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Reliability:
    """What is known of single phrases; without counts everything stays as the experts say.

    Parameters
    ----------
    tallies : mapping of PhraseKey to Tally
        Counts, 0 or more each.
    """

    tallies: Mapping[PhraseKey, Tally] = field(default_factory=dict)

    @classmethod
    def learn(cls, judgements: Iterable[Judgement], *, spared: Collection[str] = ()) -> Self:
        """Return the counts of judgements; findings in `spared` are never counted as wrong.

        Spared are findings that raise a danger: to miss one costs more than to look in vain.
        """
        found: dict[PhraseKey, Tally] = {}
        for judged in judgements:
            if judged.key.kind == FINDING and judged.key.id in spared and not judged.is_right:
                continue
            so_far = found.get(judged.key, Tally())
            found[judged.key] = (
                replace(so_far, right=so_far.right + judged.weight)
                if judged.is_right
                else replace(so_far, wrong=so_far.wrong + judged.weight)
            )
        return cls(found)

    @classmethod
    def from_json(cls, data: Any) -> Self:
        """Return the counts that `to_json` gave.

        Raises
        ------
        InputError
            If the data has another format or a count that is no number of 0 or more.
        """
        if not isinstance(data, dict) or data.get("format") != FORMAT:
            raise InputError(f"counts of phrases must have the format {FORMAT}")
        try:
            rows = {
                PhraseKey(*map(str, row["key"])): Tally(float(row["right"]), float(row["wrong"]))
                for row in data["phrases"]
            }
        except (KeyError, TypeError, ValueError) as error:
            raise InputError(f"counts of phrases cannot be read: {error}") from error
        for key, tally in rows.items():
            if not (0.0 <= tally.right < float("inf") and 0.0 <= tally.wrong < float("inf")):
                raise InputError(f"phrase '{key.phrase}': counts must be 0 or more")
        return cls(rows)

    def to_json(self) -> dict[str, Any]:
        """Return the counts as plain values, in a fixed order."""
        rows = [
            {"key": list(key), "right": tally.right, "wrong": tally.wrong}
            for key, tally in sorted(self.tallies.items())
        ]
        return {"format": FORMAT, "phrases": rows}

    def share(self, key: PhraseKey, expected: float) -> float:
        """Return how sure a phrase is: the mean of a Beta distribution, within its bounds.

        Parameters
        ----------
        key : PhraseKey
        expected : float, 0.5 to 1
            What the experts say, counting as PRIOR_WEIGHT judged readings.
        """
        tally = self.tallies.get(key)
        if tally is None:
            return expected
        count = PRIOR_WEIGHT + tally.right + tally.wrong
        mean = (expected * PRIOR_WEIGHT + tally.right) / count
        return min(max(mean, LEAST_SHARE), max(expected, MOST_SHARE))

    def weigh(self, reading: "Reading") -> "Reading":
        """Return a reading as its phrases are worth.

        The likelihood pairs of findings are moved; circumstances, remedies and guesses whose
        phrase is likelier misread than not are left out, with a note.
        """
        if not self.tallies:
            return reading
        phrases = reading.phrases
        doubted = [
            key for key in phrases.values() if key.kind != FINDING and not self._is_held(key)
        ]
        left_out = {(key.kind, key.id) for key in doubted}
        notes = [_note(reading, key) for key in doubted]
        return replace(
            reading,
            observations=tuple(
                self._weigh_one(seen, phrases.get((FINDING, seen.finding)))
                for seen in reading.observations
            ),
            risks=tuple(risk for risk in reading.risks if (RISK, risk.id) not in left_out),
            tried=tuple(done for done in reading.tried if (TRIED, done.action) not in left_out),
            guesses=tuple(own for own in reading.guesses if (GUESS, own.fault) not in left_out),
            notes=(*reading.notes, *notes),
        )

    def _is_held(self, key: PhraseKey) -> bool:
        """Return whether a phrase without a likelihood pair is likelier right than not."""
        return self.share(key, PRIOR_SHARE) > LEAST_SHARE

    def _weigh_one(self, seen: Observation, key: PhraseKey | None) -> Observation:
        """Return an observation whose pair is as sure as its phrase; its sum stays."""
        if key is None or key not in self.tallies:
            return seen
        total = seen.if_present + seen.if_absent
        share = self.share(key, sureness_of(seen))
        likely, unlikely = share * total, (1.0 - share) * total
        is_present = seen.state == "present"
        return replace(
            seen,
            if_present=likely if is_present else unlikely,
            if_absent=unlikely if is_present else likely,
        )


def sureness_of(seen: Observation) -> float:
    """Return the share of its pair that speaks for an observation's state, 0.5 to 1."""
    return max(seen.if_present, seen.if_absent) / (seen.if_present + seen.if_absent)


def name_phrases(
    document: Document, matches: Mapping[str, Sequence[Match]], reading: "Reading"
) -> dict[tuple[str, str], PhraseKey]:
    """Return the phrase of everything in a reading, by kind and id.

    `matches` holds what was found in the document by kind. A reading without a phrase of its own,
    such as praise, has none.
    """
    read: list[tuple[str, str, str, Span | None]] = [
        (FINDING, seen.finding, _manner(seen), seen.span) for seen in reading.observations
    ]
    read += [(RISK, risk.id, "", risk.span) for risk in reading.risks]
    read += [(TRIED, done.action, "", done.span) for done in reading.tried]
    read += [(GUESS, own.fault, "", own.span) for own in reading.guesses]
    words = {
        (kind, match.target.id, document.span(match.first, match.last)): match
        for kind in (FINDING, RISK, TRIED, GUESS)
        for match in reversed(matches.get(kind, ()))
    }
    found = {}
    for kind, name, manner, span in read:
        match = words.get((kind, name, span)) if span else None
        if match is not None:
            found[kind, name] = PhraseKey(kind, name, manner, _phrase(document, match))
    return found


def _manner(seen: Observation) -> str:
    return seen.state if sureness_of(seen) >= SURE_FROM else f"{seen.state}, unsure"


def _phrase(document: Document, match: Match) -> str:
    """Return the stems of the words that fill a pattern."""
    words = (document.words[at] for at in match.words)
    return " ".join(NUMBER if word[0].isdigit() else stem(word) for word in words)


def _note(reading: "Reading", key: PhraseKey) -> str:
    """Return a sentence on something left out, with its words."""
    quotes = {
        **{(RISK, risk.id): risk.quote for risk in reading.risks},
        **{(TRIED, done.action): done.quote or "" for done in reading.tried},
        **{(GUESS, own.fault): own.quote or "" for own in reading.guesses},
    }
    words = quotes[key.kind, key.id]
    return f"“{words}” was not counted: reviewers mostly found such words misread."
