"""What was read in the words of a report: labelled items and spans that do not overlap."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from helpdesk.diagnosis.engine.catalogue import (
    action_info,
    danger_info,
    fault_info,
    finding_info,
    risk_name,
)
from triage.evidence import Observation, TriedRemedy
from triage.reading import Reading

UNSURE_BELOW = 0.8  # sureness under which the page says "unsure" [judgement: desk, 2026-11-25]
RESULT_WORDS = {
    "no-change": "no change",
    "helped": "helped",
    "cured": "cured it",
    "unknown": "result not said",
}
# The kind whose mark wins where two readings share words; the others keep their line.
KIND_ORDER = ("danger", "present", "absent", "tried", "circumstance")


@dataclass(frozen=True)
class Item:
    """Something read: kind, id, what the page says of it, the words and their place."""

    kind: str
    id: str
    label: str
    quote: str
    start: int
    end: int
    is_overruled: bool = False


def list_items(
    reading: Reading, *, overruled: Collection[str] = (), raised: Collection[str]
) -> list[Item]:
    """Return everything read that has its words, in the order of the text.

    A finding in `overruled`, judged otherwise since, says so; so does a danger not `raised`.
    """
    items = [_observed(look, look.finding in overruled) for look in reading.observations]
    items += [_tried(entry) for entry in reading.tried]
    for risk in reading.risks:
        label = f"Circumstance: {risk_name(risk.id)}"
        items.append(Item("circumstance", risk.id, label, risk.quote, *risk.span))
    for guess in reading.guesses:
        label = f"Guessed cause: {fault_info(guess.fault).name}"
        span = guess.span or (-1, -1)
        items.append(Item("circumstance", guess.fault, label, guess.quote or "", *span))
    for danger in reading.dangers:
        since = "" if danger.id in raised else ", overruled since"
        label = f"Danger: {danger_info(danger.id).name}{since}"
        items.append(Item("danger", danger.id, label, danger.quote, *danger.span))
    placed = [item for item in items if 0 <= item.start < item.end]
    return sorted(placed, key=lambda i: (i.start, KIND_ORDER.index(i.kind), i.end, i.id))


def lay_spans(
    items: Sequence[Item], *, story_length: int
) -> tuple[list[dict[str, Any]], list[tuple[Item, int]]]:
    """Return the spans to mark in the story, and every item with the number of its mark.

    Spans do not overlap: an item whose words are marked already shares that mark's number. An
    item outside the story (in a reply, say) has the number 0.
    """
    chosen: list[Item] = []
    inside = [item for item in items if item.end <= story_length]
    for item in sorted(inside, key=lambda i: (KIND_ORDER.index(i.kind), i.start, i.end)):
        if all(item.end <= other.start or item.start >= other.end for other in chosen):
            chosen.append(item)
    chosen.sort(key=lambda i: i.start)
    spans = [
        {
            "start": item.start,
            "end": item.end,
            "kind": item.kind,
            "number": number,
            "finding": item.id,
            "label": item.label,
        }
        for number, item in enumerate(chosen, start=1)
    ]
    return spans, [(item, _number_of(item, spans, story_length)) for item in items]


def _number_of(item: Item, spans: Sequence[dict[str, Any]], story_length: int) -> int:
    """Return the number of the mark that covers an item's words, 0 outside the story."""
    if item.end > story_length:
        return 0
    return next(int(s["number"]) for s in spans if s["start"] < item.end and item.start < s["end"])


def _observed(look: Observation, is_overruled: bool) -> Item:
    likely = max(look.if_present, look.if_absent) / (look.if_present + look.if_absent)
    doubt = ", overruled since" if is_overruled else ", unsure" if likely < UNSURE_BELOW else ""
    label = f"{finding_info(look.finding).name}: {look.state}{doubt}"
    start, end = look.span or (-1, -1)
    return Item(look.state, look.finding, label, look.quote or "", start, end, is_overruled)


def _tried(entry: TriedRemedy) -> Item:
    label = f"Tried: {action_info(entry.action).name}, {RESULT_WORDS[entry.result]}"
    start, end = entry.span or (-1, -1)
    return Item("tried", entry.action, label, entry.quote or "", start, end)
