"""A fan that is said to be off without a number: "fan off", "no fan"."""

from collections.abc import Iterator

from triage.reading.labels import CONNECTORS, EARLY
from triage.reading.quantities import Quantity
from triage.reading.tokens import Document


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
