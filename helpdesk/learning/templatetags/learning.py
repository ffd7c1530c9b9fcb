"""How the learning pages word numbers, their kinds and their sources."""

from collections.abc import Sequence

from django import template

from helpdesk.learning.curve import Reading
from helpdesk.learning.lessons import ACCEPTED, CONFIRMED, CURED
from helpdesk.learning.selectors import RevisionRow

register = template.Library()

LEAST_DIFFERENCE_BITS = 0.05  # below this the two foresee alike [judgement: desk, 2026-11-25]
KIND_WORDS = {
    "prior": "How common:",
    "link": "Shows itself:",
    "leak": "Seen without cause:",
    "cure": "Cures:",
}
BASIS_WORDS = {
    CURED: "a cure that the verdict foretold",
    CONFIRMED: "a reviewer who judged against the suggestion, or without it",
    ACCEPTED: "the desk’s own suggestion, accepted",
}
SOURCE_WORDS = {
    "memory": "memory",
    "common-practice": "common practice",
    "published": "a published source",
}


@register.filter
def bits(value: float | None) -> str:
    """Return a log-loss in bits with two decimals."""
    return "–" if value is None else f"{value:.2f}"


@register.filter
def plain(value: float) -> str:
    """Return a constant without zeros at its end."""
    return f"{value:g}"


@register.filter
def fine_percent(probability: float) -> str:
    """Return a number of the knowledge as a percentage with the digits it needs."""
    share = 100 * probability
    return f"{share:.2f}%" if share < 1 else f"{share:.1f}%" if share < 10 else f"{share:.0f}%"


@register.filter
def kind_words(kind: str) -> str:
    """Return what kind of number it is, in words."""
    return KIND_WORDS[kind]


@register.filter
def basis_words(basis: str) -> str:
    """Return what a verdict rests on, in words."""
    return BASIS_WORDS[basis]


@register.filter
def source_words(source: str) -> str:
    """Return where an expert's number comes from, in words."""
    return SOURCE_WORDS.get(source, source)


@register.filter
def better(reading: Reading) -> str:
    """Return which numbers foresaw better, in one word or two."""
    gain = reading.expert - reading.learned
    if abs(gain) < LEAST_DIFFERENCE_BITS:
        return "alike"
    return "learned" if gain > 0 else "expert"


@register.filter
def verdict(reading: Reading) -> str:
    """Return what the last reading says, as a sentence."""
    cases = f"{reading.lessons} case{'' if reading.lessons == 1 else 's'}"
    figures = f"{reading.learned:.2f} against {reading.expert:.2f} bits a case"
    words = {
        "alike": f"Over {cases} the learned numbers foresaw about as well as the expert’s",
        "learned": f"Over {cases} the learned numbers foresaw better than the expert’s",
        "expert": f"Over {cases} the expert’s numbers foresaw better: do not put this in force",
    }
    return f"{words[better(reading)]}: {figures}."


@register.filter
def is_outdated(number: int, rows: Sequence[RevisionRow]) -> bool:
    """Return True when the revision of that number was learned on older expert knowledge."""
    return any(row.is_outdated for row in rows if row.revision.number == number)
