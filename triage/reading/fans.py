"""How fast a fan runs: "fan 80", and without a number "fan off", "no fan"."""

from collections.abc import Container, Iterator, Sequence
from typing import Final

from triage.reading.labels import CONNECTORS, COUNTED, EARLY
from triage.reading.quantities import Quantity
from triage.reading.tokens import Document

_BARE_PCT: Final[Container[float]] = frozenset({0.0, *map(float, range(10, 101, 5))})


def is_fan_speed(quantity: Quantity, *, is_before: bool, behind: Sequence[str]) -> bool:
    """Whether a quantity beside the word "fan" is its speed.

    `is_before` says whether the word stands before it, `behind` are the words behind it. A bare
    number is a speed only behind the word and when somebody would set it: "fan 80".
    """
    if quantity.dimension == "percent":
        return True
    fits = quantity.value in _BARE_PCT and quantity.low == quantity.high
    counted = COUNTED.intersection(behind)
    return quantity.dimension == "none" and is_before and fits and not counted


def read_fans_off(document: Document) -> Iterator[tuple[str, Quantity]]:
    """Yield a fan at 0 % for "fan off" and "no fan", unless the first layers are meant."""
    words = document.words
    for at, word in enumerate(words):
        if word not in {"fan", "fans"}:
            continue
        first, stop = document.segment_range(at)
        near = words[max(first, at - 6) : min(stop, at + 8)]
        if EARLY.intersection(near):
            continue
        behind = [other for other in words[at + 1 : min(stop, at + 4)] if other not in CONNECTORS]
        if behind[:1] in (["off"], ["disabled"]) or behind[:2] in (
            ["turned", "off"],
            ["switched", "off"],
        ):
            last = next(i for i in range(at + 1, stop) if words[i] in {"off", "disabled"})
            yield "fan_pct", Quantity(0.0, 0.0, 0.0, "percent", at, last)
        elif at > first and words[at - 1] in {"no", "without"} and "error" not in near:
            yield "fan_pct", Quantity(0.0, 0.0, 0.0, "percent", at - 1, at)
