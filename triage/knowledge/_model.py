"""The knowledge as frozen values, with the number tables inference works on."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

PROCESSES = ("MEX", "VPP")  # ISO/ASTM 52900 process categories the knowledge covers
ANY_PROCESS = "any"
APPARENT_KINDS = ("part", "machine", "sense")  # kinds of findings people tell of unasked
LOOKED_AT = ("print", "printer", "file", "memory")
ACTION_KINDS = ("safety", "check", "remedy", "last-resort")


def applies_to(process: str, wanted: str | None) -> bool:
    """Return whether something written for `process` has a place in a case of `wanted`."""
    return wanted is None or process in (ANY_PROCESS, wanted)


def suits_material(fault: "Fault", code: str | None) -> bool:
    """Return whether a fault can occur with a material; always when the material is not known."""
    if code is None:
        return True
    return code not in fault.never_materials and (
        not fault.only_materials or code in fault.only_materials
    )


def suits_machine(fault: "Fault", machine: "Machine | None") -> bool:
    """Return whether a fault can occur on a kind of machine.

    What the kind leaves open ("a bed-slinger": with a long guide tube or without?) rules out
    nothing: a fault that needs a trait is impossible only where the kind is known to lack it.
    """
    if machine is None:
        return True
    has = {machine.id, *machine.traits}
    if has.intersection(fault.never_machines):
        return False
    wanted = set(fault.only_machines)
    return not wanted or bool(has & wanted) or not wanted <= set(machine.lacks)


@dataclass(frozen=True, slots=True)
class Fault:
    """A cause. `prior` is its probability in a failed print, before any evidence.

    `never_machines` and `only_machines` name kinds of machine or their traits.
    """

    id: str
    process: str
    family: str
    name: str
    sign: str
    why: str
    prior: float
    source: str
    never_materials: tuple[str, ...] = ()
    only_materials: tuple[str, ...] = ()
    never_machines: tuple[str, ...] = ()
    only_machines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that can be observed. `leak` is P(present | no modelled fault).

    `looks_at` says what settles it: the print, the printer, the file with its model and settings,
    or memory alone. None when the kind says it; a measurement then needs print and printer.
    """

    id: str
    kind: str
    process: str
    name: str
    question: str
    leak: float
    minutes: float
    source: str
    help: str = ""
    needs: tuple[str, ...] = ()
    danger: str | None = None
    looks_at: str | None = None


@dataclass(frozen=True, slots=True)
class Risk:
    """A circumstance that makes faults likelier without being caused by them.

    It holds without being asked about for the `materials` and `machines` (kinds or traits) named.
    """

    id: str
    name: str
    question: str
    process: str
    odds: Mapping[str, float]
    source: str
    materials: tuple[str, ...] = ()
    machines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Link:
    """`p`: probability that this fault alone makes the finding present."""

    fault: str
    finding: str
    p: float
    source: str


@dataclass(frozen=True, slots=True)
class Action:
    """A safety step, a check that settles findings, a remedy, or what is left when all fails.

    `minutes` are hands-on, `wait_minutes` waiting; `money` is in units of about one euro.
    `after` names actions that come before this one when both are done; `side_effects` says what
    else the action changes. A last resort with `faults` is meant for those only.
    """

    id: str
    kind: str
    process: str
    name: str
    how: str
    minutes: float
    source: str
    wait_minutes: float = 0.0
    money: float = 0.0
    tools: tuple[str, ...] = ()
    cures: Mapping[str, float] = field(default_factory=dict)
    settles: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    side_effects: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Caution:
    """Words that go with a step which can hurt."""

    id: str
    text: str
    danger: bool = False


@dataclass(frozen=True, slots=True)
class Danger:
    """Something that comes before everything else; `say` stands at the top of the answer."""

    id: str
    name: str
    say: str
    caution: str


@dataclass(frozen=True, slots=True)
class Material:
    """A material, its everyday words and its numbers; ranges are (lowest, highest).

    Parameters
    ----------
    nozzle_c, bed_c : () or (float, float)
        Usual temperatures of nozzle and plate, °C.
    glass_c : float or None
        Glass transition, °C: an amorphous part begins to soften there.
    drying_c, drying_hours : () or (float, float)
        Drying of a spool in moving air, °C and h.
    density_g_cm3 : float or None
        Density of the solid, g/cm³.
    expansion_um_m_k : float or None
        Linear thermal expansion below the glass transition, µm/(m·K).
    shrinkage_pct : () or (float, float)
        Linear shrinkage from print to part, %.
    water_pct : () or (float, float)
        Water taken up in 24 hours of immersion, % of mass.
    fan_pct : () or (float, float)
        Usual part cooling after the first layers, % of full.
    exposure_s : () or (float, float)
        Usual exposure of a 0.05 mm layer on a monochrome mask screen, s.
    moisture : {"low", "medium", "high"} or None
        How soon an open spool gives trouble.
    hardened_nozzle : bool
        Whether it wears soft nozzles.
    sources : mapping of key to str
        Source of single numbers that is not `source`.
    """

    code: str
    name: str
    process: str
    words: tuple[str, ...]
    source: str
    nozzle_c: tuple[float, ...] = ()
    bed_c: tuple[float, ...] = ()
    glass_c: float | None = None
    drying_c: tuple[float, ...] = ()
    drying_hours: tuple[float, ...] = ()
    density_g_cm3: float | None = None
    expansion_um_m_k: float | None = None
    shrinkage_pct: tuple[float, ...] = ()
    water_pct: tuple[float, ...] = ()
    fan_pct: tuple[float, ...] = ()
    exposure_s: tuple[float, ...] = ()
    moisture: str | None = None
    hardened_nozzle: bool = False
    sources: Mapping[str, str] = field(default_factory=dict)

    def source_of(self, key: str) -> str:
        """Return the source of one of its numbers."""
        return self.sources.get(key, self.source)


@dataclass(frozen=True, slots=True)
class Machine:
    """A kind of machine, such as a printer whose plate moves, with everyday words for it.

    `traits` are what every machine of the kind has, `lacks` what none has; what some have and
    some have not stands in neither.
    """

    id: str
    name: str
    process: str
    words: tuple[str, ...]
    source: str
    traits: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Source:
    """Where numbers come from."""

    key: str
    title: str
    authors: str = ""
    where: str = ""
    doi: str = ""


@dataclass(frozen=True, slots=True)
class Phrases:
    """How people say that something is so: patterns for it and for its opposite.

    `named` holds bare names of a remedy ("wider brim"), which count only where a trial is told of.
    """

    present: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    named: tuple[str, ...] = ()


PHRASE_KINDS = ("finding", "risk", "tried", "guess", "danger")
PhraseBook = Mapping[str, Mapping[str, Phrases]]


@dataclass(frozen=True, slots=True, eq=False)
class Sparse:
    """The entries of each row of a table that are not 0.

    `at`, shape (rows, most), holds their columns and `value` their values. Shorter rows are
    filled up with value 0 in a column one past the last of the table.
    """

    at: NDArray[np.intp]
    value: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """The two-layer noisy-OR network as read-only arrays.

    Leaks follow the *net* convention: `link[i, j]` is the probability that fault i alone makes
    finding j present with the leak switched off, so
    P(present | faults) = 1 - (1 - leak)·∏(1 - link).

    Parameters
    ----------
    fault_ids, finding_ids, action_ids : tuple of str
        Row and column names, in the order of the knowledge.
    prior : array, shape (faults,)
    leak : array, shape (findings,)
    link : array, shape (faults, findings)
    cure : array, shape (actions, faults)
        Probability that an action cures a fault; all 0 for checks and safety steps.
    causes : Sparse
        `link` by finding: the faults linked to each.
    cured : Sparse
        `cure` by action: the faults each may cure.
    occurs : mapping of process to array of bool, shape (faults,)
        Which faults can occur in a process.
    shows : mapping of process to array of bool, shape (findings,)
        Which findings can be looked for in a process.
    apparent : array of bool, shape (findings,)
        Findings people tell of unasked: on the part, on the machine, by ear or nose.
    does : mapping of process to array of bool, shape (actions,)
        Which actions suit a process.
    kinds : mapping of kind to array of bool, shape (actions,)
        Which actions are safety steps, checks, remedies, last resorts.
    effort : array, shape (actions, 3)
        Hands-on minutes, minutes of waiting, money.
    dangerous : mapping of int to str
        Danger raised by the finding at that place.
    fault_at, finding_at, action_at : mapping of str to int
        Where an id stands.
    """

    fault_ids: tuple[str, ...]
    finding_ids: tuple[str, ...]
    action_ids: tuple[str, ...]
    prior: Floats
    leak: Floats
    link: Floats
    cure: Floats
    causes: Sparse
    cured: Sparse
    occurs: Mapping[str, Bools]
    shows: Mapping[str, Bools]
    apparent: Bools
    does: Mapping[str, Bools]
    kinds: Mapping[str, Bools]
    effort: Floats
    dangerous: Mapping[int, str]
    fault_at: Mapping[str, int]
    finding_at: Mapping[str, int]
    action_at: Mapping[str, int]


@dataclass(frozen=True, slots=True, eq=False)
class Entries:
    """Everything the knowledge files say, by id, in the order of the files.

    `phrases` maps a kind ("finding", "risk", "tried", "guess", "danger") to id to `Phrases`.
    `files` maps "kind id" to the file an entry stands in; empty for knowledge built in code.
    """

    faults: Mapping[str, Fault]
    findings: Mapping[str, Finding]
    risks: Mapping[str, Risk]
    links: tuple[Link, ...]
    actions: Mapping[str, Action]
    cautions: Mapping[str, Caution]
    dangers: Mapping[str, Danger]
    materials: Mapping[str, Material]
    machines: Mapping[str, Machine]
    sources: Mapping[str, Source]
    phrases: PhraseBook
    files: Mapping[str, str]


def implied_risks(
    entries: Entries, *, material: str | None, machine: str | None
) -> tuple[str, ...]:
    """Return the risks that hold for a material and a kind of machine without being told."""
    kind = None if machine is None else entries.machines[machine]
    has = set() if kind is None else {kind.id, *kind.traits}
    return tuple(
        risk.id
        for risk in entries.risks.values()
        if material in risk.materials or has.intersection(risk.machines)
    )


@dataclass(frozen=True, slots=True, eq=False)
class Knowledge(Entries):
    """All that is known about failed prints, ready for inference.

    `version` changes whenever the content does; `network` holds the number tables.
    """

    version: str
    network: Network
