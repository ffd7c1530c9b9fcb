"""Which process, which material and which kind of machine a text is about."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from triage.reading.patterns import Match
from triage.reading.tokens import Document

PROCESS_KIND: Final = "process"
MATERIAL_KIND: Final = "material"
MACHINE_KIND: Final = "machine"

PROCESS_PATTERNS: Final[Mapping[str, Sequence[str]]] = {
    "VPP": (
        "resin*",
        "vat/fep/nfep/msla/dlp",
        "release film",
        "exposure",
        "isopropyl/isopropanol/ipa",
        "uv",
        "build plate .. vat",
    ),
    "MEX": (
        "filament*",
        "nozzle*",
        "extru*",
        "hot-end*",
        "spool*",
        "retract*",
        "infill",
        "heated bed",
        "bed",
        "heat-break",
        "bowden",
        "first layer/layers",
        "string/strings/stringing",
    ),
}
"""Words of each process (ISO/ASTM 52900); names of materials count as well."""

_WEAK_WORDS: Final = frozenset({"bed", "first", "uv", "exposure"})

_ASIDE_BEFORE: Final = frozenset(
    {"than", "unlike", "from", "previously", "normally", "usually", "other", "instead", "or"}
    | {"considering", "try", "versus", "vs", "tried", "not"}
)
"""Words at most two before a material that make it another one than the print's."""

_DENIED_BEFORE: Final = frozenset({"never", "no", "didnt", "dont", "doesnt"})
"""Words up to five before a material that keep the trouble away from it ("never with …")."""

_ASIDE_AFTER: Final = frozenset(
    {"fine", "ok", "okay", "perfectly", "perfect", "great", "well", "beautifully", "works"}
)
"""Words behind a material that say it is the one that prints well."""


@dataclass(frozen=True, slots=True)
class WordFact:
    """A fact that is a word: its value and the words it was read from, if it was read."""

    value: str
    quote: str | None = None
    span: tuple[int, int] | None = None


def read_most_named(document: Document, matches: Iterable[Match]) -> WordFact | None:
    """Return the material (or machine) most spoken of; one named as a contrast counts little.

    Equal counts go to the one named first, and there to the longer expression.
    """
    votes: Counter[str] = Counter()
    first: dict[str, Match] = {}
    for match in matches:
        code = match.target.id
        votes[code] += 1 if _is_aside(document, match) else 4
        first.setdefault(code, match)
    if not votes:
        return None
    code = max(votes, key=lambda name: (votes[name], -first[name].first, first[name].last))
    return _fact(document, code, first[code])


def _is_aside(document: Document, match: Match) -> bool:
    first, _ = document.segment_range(match.first)
    near = document.words[max(first, match.first - 2) : match.first]
    before = document.words[max(first, match.first - 5) : match.first]
    behind = document.words[match.last + 1 : match.last + 5]
    if _ASIDE_BEFORE.intersection(near) or _DENIED_BEFORE.intersection(before):
        return True
    return bool(_ASIDE_AFTER.intersection(behind))


def read_process(
    document: Document,
    matches: Iterable[Match],
    *,
    material: WordFact | None,
    processes: Mapping[str, str],
) -> WordFact | None:
    """Return the process the words speak of, or None when they are evenly split or silent.

    `processes` maps material codes to their process.
    """
    votes: Counter[str] = Counter()
    first: dict[str, Match] = {}
    for match in matches:
        votes[match.target.id] += 1 if document.words[match.first] in _WEAK_WORDS else 3
        first.setdefault(match.target.id, match)
    if material is not None and material.value in processes:
        votes[processes[material.value]] += 3
    ranked = votes.most_common(2)
    if not ranked or (len(ranked) > 1 and ranked[0][1] == ranked[1][1]):
        return None
    winner = ranked[0][0]
    if winner in first:
        return _fact(document, winner, first[winner])
    return WordFact(winner, material.quote, material.span) if material is not None else None


def _fact(document: Document, value: str, match: Match) -> WordFact:
    span = document.span(match.first, match.last)
    return WordFact(value, document.quote(span), span)
