"""Settings and measures in a text: which quantity is which setting, and which make no sense."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from triage.reading.settings import read_settings
from triage.reading.subject import WordFact
from triage.reading.tokens import Document


@dataclass(frozen=True, slots=True)
class NumberFact:
    """A measured or set value.

    Parameters
    ----------
    value : float
        In the unit of the fact's name; the middle when a range was given.
    low, high : float
        Ends of the range; equal to `value` when a single number was given.
    quote : str
        The words it was read from.
    span : (int, int)
        Their character offsets in the text.
    """

    value: float
    low: float
    high: float
    quote: str
    span: tuple[int, int]


@dataclass(frozen=True, slots=True)
class FactQuery:
    """A value that makes no sense as it stands, to be asked about.

    Parameters
    ----------
    field : str
        Name of the fact it would have been.
    value : float
        The value as read, in the fact's unit.
    why : str
        One sentence for the person who asks.
    quote, span
        The words and their character offsets in the text.
    """

    field: str
    value: float
    why: str
    quote: str
    span: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Facts:
    """What the text says of machine, material and settings; None where it says nothing.

    `machine` is the kind of machine, `machine_name` what it is called; `maker` is who made the
    material. `walls` is a count, `dry_c` and `dry_h` tell how the material was dried.
    """

    process: WordFact | None = None
    material: WordFact | None = None
    machine: WordFact | None = None
    machine_name: WordFact | None = None
    maker: WordFact | None = None
    nozzle_mm: NumberFact | None = None
    layer_height_mm: NumberFact | None = None
    nozzle_c: NumberFact | None = None
    bed_c: NumberFact | None = None
    speed_mm_s: NumberFact | None = None
    failed_at_mm: NumberFact | None = None
    failed_after_h: NumberFact | None = None
    fan_pct: NumberFact | None = None
    retraction_mm: NumberFact | None = None
    retraction_mm_s: NumberFact | None = None
    flow_pct: NumberFact | None = None
    walls: NumberFact | None = None
    dry_c: NumberFact | None = None
    dry_h: NumberFact | None = None
    exposure_s: NumberFact | None = None
    queries: tuple[FactQuery, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Limit:
    """Range in which a value makes sense; outside it is asked about, with `why`."""

    low: float
    high: float
    why: str


LIMITS: Final[Mapping[str, Limit]] = {
    "nozzle_mm": Limit(0.1, 2.0, "Nozzle bores run from 0.1 to 2 mm."),
    "layer_height_mm": Limit(0.01, 1.2, "Layers are between 0.01 and 1.2 mm high."),
    "nozzle_c": Limit(150.0, 450.0, "A nozzle prints between 150 and 450 °C."),
    "bed_c": Limit(15.0, 150.0, "A plate is kept between room temperature and 150 °C."),
    "speed_mm_s": Limit(1.0, 1000.0, "Print speeds run from 1 to 1,000 mm/s."),
    "failed_at_mm": Limit(0.05, 2000.0, "A height on a print lies between 0.05 and 2,000 mm."),
    "failed_after_h": Limit(0.0, 400.0, "A print lasts 400 hours at most."),
    "fan_pct": Limit(0.0, 100.0, "A fan runs between 0 and 100 %."),
    "retraction_mm": Limit(0.0, 20.0, "Retraction is between 0 and 20 mm."),
    "retraction_mm_s": Limit(1.0, 200.0, "Filament is drawn back at 1 to 200 mm/s."),
    "walls": Limit(1.0, 100.0, "A print has between 1 and 100 walls."),
    "dry_c": Limit(25.0, 160.0, "Filament is dried between 25 and 160 °C."),
    "dry_h": Limit(0.05, 200.0, "Drying takes between a few minutes and 200 hours."),
    "flow_pct": Limit(30.0, 200.0, "Flow is set between 30 and 200 %."),
    "exposure_s": Limit(0.1, 200.0, "A layer is exposed for between 0.1 and 200 seconds."),
}
"""Common practice; generous, so that only what cannot be meant is asked about."""

UNSCALED_NOZZLE_MAX_C: Final = 330.0
"""°C; "410 degrees" without a scale is as likely Fahrenheit, so it is asked about."""


def read_facts(
    document: Document,
    *,
    process: WordFact | None,
    material: WordFact | None,
    machine: WordFact | None = None,
    machine_name: WordFact | None = None,
    maker: WordFact | None = None,
) -> Facts:
    """Return the settings and measures a text states.

    Of several values for one setting the first counts. A value outside LIMITS becomes a query, the
    first of each setting.

    Parameters
    ----------
    document : Document
        The text.
    process, material, machine, machine_name, maker : WordFact or None
        Handed through to the result.
    """
    found: dict[str, NumberFact] = {}
    queries: dict[str, FactQuery] = {}
    for name, quantity in read_settings(document):
        span = document.span(quantity.first, quantity.last)
        quote = document.quote(span)
        limit = LIMITS[name]
        unscaled = name == "nozzle_c" and not quantity.has_scale
        if not limit.low <= quantity.value <= limit.high:
            queries.setdefault(name, FactQuery(name, quantity.value, limit.why, quote, span))
        elif unscaled and quantity.value > UNSCALED_NOZZLE_MAX_C:
            why = "Without a scale this may be degrees Fahrenheit."
            queries.setdefault(name, FactQuery(name, quantity.value, why, quote, span))
        else:
            fact = NumberFact(quantity.value, quantity.low, quantity.high, quote, span)
            found.setdefault(name, fact)
    return Facts(
        process=process,
        material=material,
        machine=machine,
        machine_name=machine_name,
        maker=maker,
        queries=tuple(queries.values()),
        **found,
    )
