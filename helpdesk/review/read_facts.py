"""Facts of a print that stand in the person's words and not in the fields of the case."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from helpdesk.cases.models import Case, Process
from helpdesk.diagnosis.values import CaseView, FactView

FACT_WORDS = {
    "process": ("process", ""),
    "material": ("material", ""),
    "material_maker": ("made by", ""),
    "machine": ("printer", ""),
    "layer_height_mm": ("layer height", "mm"),
    "nozzle_mm": ("nozzle", "mm"),
    "nozzle_c": ("nozzle", "°C"),
    "bed_c": ("plate", "°C"),
    "speed_mm_s": ("speed", "mm/s"),
    "failed_at_mm": ("failed at", "mm"),
}
WORDS = frozenset({"process", "material", "material_maker", "machine"})  # the others are measures


@dataclass(frozen=True)
class ReadFact:
    """A fact read in the words of a report; `is_new` when the case says nothing of it."""

    field: str
    label: str
    value: Any
    shown: str
    quote: str
    is_new: bool


def list_read_facts(case: Case, view: CaseView | None) -> Sequence[ReadFact]:
    """Return what the words say of the facts where the case says nothing or otherwise."""
    facts = (_read(case, fact) for fact in (view.facts if view else ()))
    return [fact for fact in facts if not _holds(getattr(case, fact.field), fact)]


def _holds(kept: Any, fact: ReadFact) -> bool:
    """Whether what a case keeps says the fact already; a name may stand in longer words."""
    if fact.field in ("material_maker", "machine"):
        return str(fact.value).casefold() in str(kept).casefold()
    return bool(kept == fact.value)


def _read(case: Case, fact: FactView) -> ReadFact:
    """Return a fact as the case would hold it and as people read it."""
    label, unit = FACT_WORDS[fact.field]
    value = fact.value if fact.field in WORDS else float(fact.value)
    shown = Process(fact.value).label if fact.field == "process" else fact.value
    return ReadFact(
        field=fact.field,
        label=label,
        value=value,
        shown=f"{shown} {unit}".strip(),
        quote=fact.quote,
        is_new=getattr(case, fact.field) in (None, ""),
    )
