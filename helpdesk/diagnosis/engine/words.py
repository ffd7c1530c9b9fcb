"""What was read in the words of a report: labelled items and spans that do not overlap."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

from helpdesk.diagnosis.engine.catalogue import (
    action_info,
    danger_info,
    fault_info,
    finding_info,
    risk_name,
)
from helpdesk.diagnosis.engine.facts import list_said
from triage.evidence import Observation, TriedRemedy
from triage.reading import ReadDanger, Reading

UNSURE_BELOW = 0.8  # sureness under which the page says "unsure" [judgement: desk, 2026-11-25]
RESULT_WORDS = {
    "no-change": "no change",
    "helped": "helped",
    "cured": "cured it",
    "unknown": "result not said",
}
OVERRULED = ", overruled since"
# The kind whose mark wins where two readings share words; the others keep their line.
KIND_ORDER = ("danger", "present", "absent", "tried", "circumstance", "fact")


@dataclass(frozen=True)
class ReadItem:
    """Something read: kind, id, what the page says of it, the words and their place.

    `kind` is how the words are marked; `about` is what somebody can correct: "finding", "risk",
    "tried", "guess", "danger" or "fact", "noted" for what somebody added, "" for nothing.
    """

    kind: str
    id: str
    label: str
    quote: str
    start: int
    end: int
    is_overruled: bool = False
    about: str = ""

    @property
    def subject(self) -> str:
        """Return the label without what was thought of it since."""
        return self.label.removesuffix(OVERRULED)


def list_items(
    reading: Reading,
    *,
    raised: Collection[str],
    overruled: Collection[str] = (),
    misread: Collection[tuple[str, str]] = (),
    noted: Sequence[Observation] = (),
) -> list[ReadItem]:
    """Return everything read that has its words, in the order of the text.

    A finding in `overruled`, judged otherwise since, says so; so does anything `misread` and a
    danger not `raised`. What somebody `noted` stands among what was read.
    """
    items = [_observed(look, look.finding in overruled) for look in reading.observations]
    items += [_noted(look) for look in noted]
    items += [_tried(entry) for entry in reading.tried]
    for risk in reading.risks:
        label = f"Circumstance: {risk_name(risk.id)}"
        items.append(ReadItem("circumstance", risk.id, label, risk.quote, *risk.span, about="risk"))
    for guess in reading.guesses:
        label = f"Guessed cause: {fault_info(guess.fault).name}"
        start, end = guess.span or (-1, -1)
        quote = guess.quote or ""
        items.append(ReadItem("circumstance", guess.fault, label, quote, start, end, about="guess"))
    for said in list_said(reading.facts):
        label = f"{said.label}: {said.value}"
        items.append(
            ReadItem("fact", said.name, label, said.quote, said.start, said.end, about="fact")
        )
    items = [_take_back(item) if (item.about, item.id) in misread else item for item in items]
    items += [_danger(danger, raised=raised, misread=misread) for danger in reading.dangers]
    placed = [item for item in items if 0 <= item.start < item.end]
    return sorted(placed, key=lambda i: (i.start, KIND_ORDER.index(i.kind), i.end, i.id))


def lay_spans(
    items: Sequence[ReadItem], *, story_length: int
) -> tuple[list[dict[str, Any]], list[tuple[ReadItem, int]]]:
    """Return the spans to mark in the story, and every item with the number of its mark.

    Spans do not overlap: an item whose words are marked already shares that mark's number. An
    item outside the story (in a reply, say) has the number 0.
    """
    chosen: list[ReadItem] = []
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


def _number_of(item: ReadItem, spans: Sequence[dict[str, Any]], story_length: int) -> int:
    """Return the number of the mark that covers an item's words, 0 outside the story."""
    if item.end > story_length:
        return 0
    return next(int(s["number"]) for s in spans if s["start"] < item.end and item.start < s["end"])


def _take_back(item: ReadItem) -> ReadItem:
    """Return something read as one whose words mean something else."""
    return replace(item, label=f"{item.label}{OVERRULED}", is_overruled=True)


def _danger(
    danger: ReadDanger, *, raised: Collection[str], misread: Collection[tuple[str, str]]
) -> ReadItem:
    """Return a danger; one that is off for its finding is corrected there."""
    item = ReadItem(
        "danger", danger.id, f"Danger: {danger_info(danger.id).name}", danger.quote, *danger.span
    )
    if ("danger", danger.id) in misread:
        return replace(_take_back(item), about="danger")
    return replace(item, about="danger") if danger.id in raised else _take_back(item)


def _noted(look: Observation) -> ReadItem:
    label = f"{finding_info(look.finding).name}: {look.state}, noted by us"
    start, end = look.span or (-1, -1)
    return ReadItem(look.state, look.finding, label, look.quote or "", start, end, about="noted")


def _observed(look: Observation, is_overruled: bool) -> ReadItem:
    likely = max(look.if_present, look.if_absent) / (look.if_present + look.if_absent)
    doubt = OVERRULED if is_overruled else ", unsure" if likely < UNSURE_BELOW else ""
    label = f"{finding_info(look.finding).name}: {look.state}{doubt}"
    start, end = look.span or (-1, -1)
    quote = look.quote or ""
    return ReadItem(look.state, look.finding, label, quote, start, end, is_overruled, "finding")


def _tried(entry: TriedRemedy) -> ReadItem:
    label = f"Tried: {action_info(entry.action).name}, {RESULT_WORDS[entry.result]}"
    start, end = entry.span or (-1, -1)
    return ReadItem("tried", entry.action, label, entry.quote or "", start, end, about="tried")
