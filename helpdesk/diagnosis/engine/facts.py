"""Settings, materials and names read in the words of a report, as the desk speaks of them."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from helpdesk.diagnosis.engine.knowledge import expert_knowledge
from triage.reading import Facts

PROCESS_WORDS = {"MEX": "melted filament or granules", "VPP": "liquid resin and light"}

SETTINGS = {
    "nozzle_mm": ("Nozzle", "mm"),
    "layer_height_mm": ("Layer height", "mm"),
    "walls": ("Walls", ""),
    "nozzle_c": ("Nozzle temperature", "°C"),
    "bed_c": ("Plate temperature", "°C"),
    "speed_mm_s": ("Speed", "mm/s"),
    "fan_pct": ("Fan", "%"),
    "flow_pct": ("Flow", "%"),
    "retraction_mm": ("Retraction", "mm"),
    "retraction_mm_s": ("Speed of retraction", "mm/s"),
    "exposure_s": ("Exposure", "s"),
    "dry_c": ("Dried at", "°C"),
    "dry_h": ("Dried for", "h"),
    "failed_at_mm": ("Failed at", "mm"),
    "failed_after_h": ("Failed after", "h"),
}
"""Measures in the order the desk shows them, each with its label and unit."""

WORD_LABELS = {
    "process": "How it prints",
    "material": "Material",
    "machine": "Kind of printer",
    "maker": "Who made it",
    "machine_name": "Printer",
}
"""Facts that are words, in the order the desk shows them."""

CASE_MEASURES = (
    "nozzle_mm",
    "layer_height_mm",
    "nozzle_c",
    "bed_c",
    "speed_mm_s",
    "failed_at_mm",
)
CASE_WORDS = {
    "process": "process",
    "material": "material",
    "material_maker": "maker",
    "machine": "machine_name",
}
"""Fields of a case that hold words, and the fact that fills each."""


@dataclass(frozen=True)
class SaidFact:
    """A fact read in the words: its name, label and value, the words and their place."""

    name: str
    label: str
    value: str
    quote: str
    start: int
    end: int


def facts_data(read: Facts, *, misread: Collection[str] = ()) -> list[dict[str, str]]:
    """Return the facts a case has a field for, with the words they were read in.

    Those in `misread` are left out.
    """
    found = []
    for name in CASE_MEASURES:
        fact = getattr(read, name)
        if fact is not None and name not in misread:
            found.append({"field": name, "value": f"{fact.value:g}", "quote": fact.quote})
    for name, source in CASE_WORDS.items():
        word = getattr(read, source)
        if word is not None and word.quote and source not in misread:
            found.append({"field": name, "value": word.value, "quote": word.quote})
    return found


def checks_data(read: Facts) -> list[dict[str, str]]:
    """Return the values that cannot be meant as they stand, to be asked about."""
    return [
        {"shown": say_measure(query.field, query.value), "why": query.why, "quote": query.quote}
        for query in read.queries
    ]


def list_said(read: Facts) -> Sequence[SaidFact]:
    """Return every fact that was read: what it is printed with and how, then the settings."""
    return (*_words_said(read), *_measures_said(read))


def _words_said(read: Facts) -> Iterator[SaidFact]:
    """Yield process, material, kind of machine, maker and name that stand in the words."""
    machines = expert_knowledge().machines
    for name, label in WORD_LABELS.items():
        fact: Any = getattr(read, name)
        if fact is None or not fact.quote or fact.span is None:
            continue
        value = fact.value
        if name == "process":
            value = PROCESS_WORDS.get(value, value)
        elif name == "machine":
            value = machines[value].name
        yield SaidFact(name, label, value, fact.quote, *fact.span)


def _measures_said(read: Facts) -> Iterator[SaidFact]:
    """Yield the settings and measures, each with its unit."""
    for name, (label, unit) in SETTINGS.items():
        fact: Any = getattr(read, name)
        if fact is not None:
            value = f"{round(fact.value, 2):g} {unit}".strip()
            yield SaidFact(name, label, value, fact.quote, *fact.span)


def say_measure(name: str, value: float) -> str:
    """Return a measure with its label and unit ("nozzle temperature 21 °C")."""
    label, unit = SETTINGS[name]
    return f"{label.lower()} {round(value, 2):g} {unit}".strip()
