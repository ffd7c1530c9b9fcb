"""What each kind of entry in the knowledge files may hold, and how a value is checked."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, fields
from typing import Any

from triage.knowledge._model import (
    ACTION_KINDS,
    ANY_PROCESS,
    LOOKED_AT,
    PROCESSES,
    Action,
    Caution,
    Danger,
    Fault,
    Finding,
    Machine,
    Material,
    Phrases,
    Risk,
    Source,
)

MOISTURE = ("low", "medium", "high")
FINDING_KINDS = ("part", "machine", "sense", "measure", "circumstance")
_IDENTIFIER = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")

Converter = Callable[[object], object]


class ValueRefusedError(ValueError):
    """A value does not fit its key; the message says what would."""


def text(value: object) -> str:
    """Return a text, trimmed; an empty one is allowed."""
    if not isinstance(value, str):
        msg = f"{value!r} must be a text in quotation marks"
        raise ValueRefusedError(msg)
    return " ".join(value.split())


def filled_text(value: object) -> str:
    """Return a text that says something."""
    words = text(value)
    if not words:
        msg = "the text must not be empty"
        raise ValueRefusedError(msg)
    return words


def identifier(value: object) -> str:
    """Return an id: lower-case words joined by hyphens."""
    name = filled_text(value)
    if not _IDENTIFIER.fullmatch(name):
        msg = f"'{name}' must be lower-case words joined by hyphens"
        raise ValueRefusedError(msg)
    return name


def number(value: object) -> float:
    """Return a finite number."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        msg = f"{value!r} must be a number"
        raise ValueRefusedError(msg)
    return float(value)


def amount(value: object) -> float:
    """Return a number that is 0 or more."""
    found = number(value)
    if found < 0.0:
        msg = f"{found:g} must be 0 or more"
        raise ValueRefusedError(msg)
    return found


def ratio(value: object) -> float:
    """Return a number above 0."""
    found = number(value)
    if found <= 0.0:
        msg = f"{found:g} must be above 0"
        raise ValueRefusedError(msg)
    return found


def probability(value: object) -> float:
    """Return a probability strictly between 0 and 1: nothing here is certain."""
    found = number(value)
    if not 0.0 < found < 1.0:
        msg = f"{found:g} must lie between 0 and 1, neither included"
        raise ValueRefusedError(msg)
    return found


def truth(value: object) -> bool:
    """Return true or false."""
    if not isinstance(value, bool):
        msg = f"{value!r} must be true or false"
        raise ValueRefusedError(msg)
    return value


def choice(*valid: str) -> Converter:
    """Return a converter that accepts only the words given."""

    def convert(value: object) -> str:
        if value not in valid:
            msg = f"{value!r} must be one of {', '.join(valid)}"
            raise ValueRefusedError(msg)
        return str(value)

    return convert


def span(value: object) -> tuple[float, ...]:
    """Return a range: two numbers, the lower first."""
    if not isinstance(value, list) or len(value) != 2:
        msg = f"{value!r} must be two numbers in square brackets, the lower first"
        raise ValueRefusedError(msg)
    low, high = (number(item) for item in value)
    if low > high:
        msg = f"{low:g} to {high:g} must have the lower number first"
        raise ValueRefusedError(msg)
    return low, high


def many(convert: Converter) -> Converter:
    """Return a converter for a list of such values."""

    def convert_all(value: object) -> tuple[object, ...]:
        if not isinstance(value, list):
            msg = f"{value!r} must be a list in square brackets"
            raise ValueRefusedError(msg)
        return tuple(convert(item) for item in value)

    return convert_all


def by_name(convert: Converter) -> Converter:
    """Return a converter for a table of names and such values."""

    def convert_all(value: object) -> Mapping[str, object]:
        if not isinstance(value, dict):
            msg = f"{value!r} must be a table in curly brackets"
            raise ValueRefusedError(msg)
        return {name: convert(item) for name, item in value.items()}

    return convert_all


_PROCESS = choice(*PROCESSES, ANY_PROCESS)
_TEXTS = many(filled_text)


@dataclass(frozen=True, slots=True)
class Schema:
    """Which keys an entry has. `make` is its dataclass; keys without default are required."""

    make: Callable[..., Any]
    keys: Mapping[str, Converter]

    @property
    def required(self) -> tuple[str, ...]:
        """The keys an entry must have."""
        return tuple(
            item.name
            for item in fields(self.make)  # type: ignore[arg-type]
            if item.default is MISSING and item.default_factory is MISSING
        )


_NAMED: dict[str, Converter] = {"id": identifier, "name": filled_text, "source": filled_text}

SCHEMAS: Mapping[str, Schema] = {
    "fault": Schema(
        Fault,
        _NAMED
        | {
            "process": _PROCESS,
            "family": filled_text,
            "sign": filled_text,
            "why": filled_text,
            "prior": probability,
            "never_materials": _TEXTS,
            "only_materials": _TEXTS,
            "never_machines": _TEXTS,
            "only_machines": _TEXTS,
        },
    ),
    "finding": Schema(
        Finding,
        _NAMED
        | {
            "kind": choice(*FINDING_KINDS),
            "process": _PROCESS,
            "question": filled_text,
            "help": text,
            "leak": probability,
            "minutes": ratio,
            "needs": _TEXTS,
            "danger": identifier,
            "looks_at": choice(*LOOKED_AT),
        },
    ),
    "risk": Schema(
        Risk,
        _NAMED
        | {
            "question": filled_text,
            "process": _PROCESS,
            "odds": by_name(ratio),
            "materials": _TEXTS,
            "machines": _TEXTS,
        },
    ),
    "action": Schema(
        Action,
        _NAMED
        | {
            "kind": choice(*ACTION_KINDS),
            "process": _PROCESS,
            "how": filled_text,
            "minutes": ratio,
            "wait_minutes": amount,
            "money": amount,
            "tools": _TEXTS,
            "cures": by_name(probability),
            "settles": _TEXTS,
            "cautions": _TEXTS,
            "faults": _TEXTS,
            "after": _TEXTS,
            "side_effects": _TEXTS,
        },
    ),
    "caution": Schema(Caution, {"id": identifier, "text": filled_text, "danger": truth}),
    "danger": Schema(
        Danger,
        {"id": identifier, "name": filled_text, "say": filled_text, "caution": identifier},
    ),
    "material": Schema(
        Material,
        {
            "code": filled_text,
            "name": filled_text,
            "process": _PROCESS,
            "words": _TEXTS,
            "nozzle_c": span,
            "bed_c": span,
            "glass_c": number,
            "drying_c": span,
            "drying_hours": span,
            "density_g_cm3": ratio,
            "expansion_um_m_k": ratio,
            "shrinkage_pct": span,
            "water_pct": span,
            "fan_pct": span,
            "exposure_s": span,
            "moisture": choice(*MOISTURE),
            "hardened_nozzle": truth,
            "sources": by_name(filled_text),
            "source": filled_text,
        },
    ),
    "machine": Schema(
        Machine,
        _NAMED
        | {
            "process": _PROCESS,
            "words": _TEXTS,
            "traits": many(identifier),
            "lacks": many(identifier),
        },
    ),
    "source": Schema(
        Source,
        {
            "key": filled_text,
            "title": filled_text,
            "authors": text,
            "where": text,
            "doi": text,
        },
    ),
    "phrases": Schema(Phrases, {"present": _TEXTS, "absent": _TEXTS, "named": _TEXTS}),
}
