"""From phrases found to what the person said: observations, guesses, risks, dangers."""

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from triage.evidence import Guess, Observation, State
from triage.reading.likelihood import Weight, likelihood_pair
from triage.reading.patterns import Match
from triage.reading.scope import Scopes
from triage.reading.stance import Stance
from triage.reading.tokens import Document

TEXT_SOURCE = "text"
"""Source written on every observation read from a text."""


@dataclass(frozen=True, slots=True)
class ReadRisk:
    """A circumstance the text mentions."""

    id: str
    quote: str
    span: tuple[int, int]


@dataclass(frozen=True, slots=True)
class ReadDanger:
    """A danger the text mentions, directly or through a finding that names it."""

    id: str
    quote: str
    span: tuple[int, int]


@dataclass(frozen=True, slots=True)
class _Mention:
    """One statement about one finding."""

    match: Match
    state: State
    weight: Weight


def read_observations(
    document: Document,
    scopes: Scopes,
    matches: Iterable[Match],
    *,
    dangerous: Container[str] = (),
) -> tuple[Observation, ...]:
    """Return one observation for each finding the text speaks of, in the order of the text.

    Of several statements about a finding the strongest counts; of equally strong ones that
    contradict each other the later counts, as people write what holds now last. A statement
    inside a longer one about the same finding is part of the longer one and does not count.
    Findings in `dangerous` are believed more firmly when told plainly.
    """
    by_finding: dict[str, list[_Mention]] = {}
    for match in matches:
        if match.target.side == "absent" and scopes.describes(match.last):
            continue  # "the bridge has fine strings" praises nothing
        mention = _judge(match, scopes.stance(match))
        if mention is not None:
            by_finding.setdefault(match.target.id, []).append(mention)
    chosen = sorted(
        (_choose(_outermost(mentions)) for mentions in by_finding.values()),
        key=lambda mention: mention.match.words,
    )
    return tuple(
        _observe(document, mention, is_danger=mention.match.target.id in dangerous)
        for mention in chosen
    )


def _judge(match: Match, stance: Stance) -> _Mention | None:
    """Return what a phrase about a finding says, or None when it says nothing about now."""
    praises = match.target.side == "absent"
    if stance.prevented and not stance.negated:
        return None
    if praises and stance.resolved and stance.hedged:  # "used to stick well"
        return None
    denies = stance.negated
    weight = Weight.PLAIN
    if stance.resolved and not praises and not denies:
        return _Mention(match, "absent", Weight.RESOLVED)
    if stance.advice:
        weight = Weight.HEARSAY
    elif stance.hedged or (praises and denies):  # "not perfect" says little
        weight = Weight.HEDGED
    return _Mention(match, "present" if praises == denies else "absent", weight)


def _outermost(mentions: Sequence[_Mention]) -> list[_Mention]:
    """Leave out statements that lie inside a longer one of the opposite state."""
    kept = []
    for mention in mentions:
        first, last = mention.match.first, mention.match.last
        inside = any(
            other.match.first <= first
            and last <= other.match.last
            and len(other.match.words) > len(mention.match.words)
            and other.state != mention.state
            for other in mentions[:MOST_COMPARED]
        )
        if not inside:
            kept.append(mention)
    return kept or list(mentions)


MOST_COMPARED = 50
"""Statements about one finding that are compared with each other; more is a flood of words."""


def _choose(mentions: Sequence[_Mention]) -> _Mention:
    strongest = max(mention.weight for mention in mentions)
    rivals = [mention for mention in mentions if mention.weight == strongest]
    contradicted = len({mention.state for mention in rivals}) > 1
    return rivals[-1] if contradicted else rivals[0]


def _observe(document: Document, mention: _Mention, *, is_danger: bool) -> Observation:
    span = document.span(mention.match.first, mention.match.last)
    if_present, if_absent = likelihood_pair(
        mention.weight, present=mention.state == "present", is_danger=is_danger
    )
    return Observation(
        finding=mention.match.target.id,
        state=mention.state,
        if_present=if_present,
        if_absent=if_absent,
        source=TEXT_SOURCE,
        quote=document.quote(span),
        span=span,
    )


def leave_out_harmless(
    matches: Iterable[Match], harmless: Iterable[Match], named_by: Mapping[str, str]
) -> list[Match]:
    """Return the matches without those that borrow a word from a harmless expression.

    The `absent` patterns of a danger name things that only sound like it: in "the cold plug was
    brown" the plug is no electric one. A match that contains the whole expression ("plug of the
    hot end melted", where "hot end" is harmless) stays.
    """
    taken: dict[str, list[frozenset[int]]] = {}
    for match in harmless:
        taken.setdefault(match.target.id, []).append(frozenset(match.words))
    if not taken:
        return list(matches)
    return [match for match in matches if not _borrows(match, taken, named_by)]


def _borrows(
    match: Match, taken: Mapping[str, Sequence[frozenset[int]]], named_by: Mapping[str, str]
) -> bool:
    kind, name, _ = match.target
    danger = name if kind == "danger" else named_by.get(name)
    words = frozenset(match.words)
    return danger is not None and any(
        words & expression and not expression < words for expression in taken.get(danger, ())
    )


def read_guesses(
    document: Document, scopes: Scopes, matches: Iterable[Match]
) -> tuple[tuple[Guess, ...], tuple[Guess, ...]]:
    """Return the causes the person supposes, and those somebody else suggested."""
    own: dict[str, Guess] = {}
    advice: dict[str, Guess] = {}
    for match in matches:
        stance = scopes.stance(match)
        if stance.negated or stance.resolved:
            continue
        span = document.span(match.first, match.last)
        guess = Guess(match.target.id, document.quote(span), span)
        (advice if stance.advice else own).setdefault(match.target.id, guess)
    return tuple(own.values()), tuple(advice.values())


def read_risks(
    document: Document, scopes: Scopes, matches: Iterable[Match]
) -> tuple[ReadRisk, ...]:
    """Return the circumstances the text states; denied, planned or hearsay ones are left out."""
    found: dict[str, ReadRisk] = {}
    for match in matches:
        stance = scopes.stance(match)
        if stance.negated or stance.advice or stance.prevented or stance.intended:
            continue
        span = document.span(match.first, match.last)
        found.setdefault(match.target.id, ReadRisk(match.target.id, document.quote(span), span))
    return tuple(found.values())


def read_dangers(
    document: Document,
    scopes: Scopes,
    matches: Iterable[Match],
    *,
    observations: Iterable[Observation],
    named_by: Mapping[str, str],
) -> tuple[ReadDanger, ...]:
    """Return every danger the text may speak of.

    Doubt, fear, hearsay and the past do not lower a danger: only a flat denial does, and one
    plain mention outweighs any number of denials.
    """
    found: dict[str, ReadDanger] = {}
    for danger, span in _danger_spans(document, scopes, matches, observations, named_by):
        found.setdefault(danger, ReadDanger(danger, document.quote(span), span))
    return tuple(sorted(found.values(), key=lambda danger: danger.span))


def _danger_spans(
    document: Document,
    scopes: Scopes,
    matches: Iterable[Match],
    observations: Iterable[Observation],
    named_by: Mapping[str, str],
) -> Iterator[tuple[str, tuple[int, int]]]:
    for match in matches:
        stance = scopes.stance(match)
        names_danger = match.target.kind == "danger" or match.target.id in named_by
        praises = match.target.side == "absent"
        if names_danger and not stance.flatly_negated and not praises:
            danger = match.target.id
            if match.target.kind == "finding":
                danger = named_by[danger]
            yield danger, document.span(match.first, match.last)
    for seen in observations:
        if seen.finding in named_by and seen.state == "present" and seen.span is not None:
            yield named_by[seen.finding], seen.span
