"""Settings, materials and names read in the words of a report, as the desk speaks of them."""

from collections.abc import Sequence
from typing import Any

from triage.reading import Facts

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


def facts_data(read: Facts) -> list[dict[str, str]]:
    """Return the facts a case has a field for, with the words they were read in."""
    found = []
    for name in CASE_MEASURES:
        fact = getattr(read, name)
        if fact is not None:
            found.append({"field": name, "value": f"{fact.value:g}", "quote": fact.quote})
    for name, source in CASE_WORDS.items():
        word = getattr(read, source)
        if word is not None and word.quote:
            found.append({"field": name, "value": word.value, "quote": word.quote})
    return found


def checks_data(read: Facts) -> list[dict[str, str]]:
    """Return the values that cannot be meant as they stand, to be asked about."""
    return [
        {"shown": say_measure(query.field, query.value), "why": query.why, "quote": query.quote}
        for query in read.queries
    ]


def settings_said(read: Facts) -> Sequence[tuple[str, str, str]]:
    """Return label, value with unit and words of every measure that was read."""
    found: list[tuple[str, str, str]] = []
    for name, (label, unit) in SETTINGS.items():
        fact: Any = getattr(read, name)
        if fact is not None:
            found.append((label, f"{round(fact.value, 2):g} {unit}".strip(), fact.quote))
    return found


def say_measure(name: str, value: float) -> str:
    """Return a measure with its label and unit ("nozzle temperature 21 °C")."""
    label, unit = SETTINGS[name]
    return f"{label.lower()} {round(value, 2):g} {unit}".strip()
