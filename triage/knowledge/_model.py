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
ACTION_KINDS = ("safety", "check", "remedy")


def applies_to(process: str, wanted: str | None) -> bool:
    """Return whether something written for `process` has a place in a case of `wanted`."""
    return wanted is None or process in (ANY_PROCESS, wanted)


@dataclass(frozen=True, slots=True)
class Fault:
    """A cause. `prior` is its probability in a failed print, before any evidence."""

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


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that can be observed. `leak` is P(present | no modelled fault)."""

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


@dataclass(frozen=True, slots=True)
class Risk:
    """A circumstance that makes faults likelier without being caused by them."""

    id: str
    name: str
    question: str
    process: str
    odds: Mapping[str, float]
    source: str


@dataclass(frozen=True, slots=True)
class Link:
    """`p`: probability that this fault alone makes the finding present."""

    fault: str
    finding: str
    p: float
    source: str


@dataclass(frozen=True, slots=True)
class Action:
    """A safety step, a check that settles findings, or a remedy that may cure faults."""

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
    """A material with its usual temperatures, °C (lowest and highest), and everyday words."""

    code: str
    name: str
    process: str
    words: tuple[str, ...]
    source: str
    nozzle_c: tuple[float, ...] = ()
    bed_c: tuple[float, ...] = ()
    glass_c: float | None = None


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
    """How people say that something is so: patterns for it and for its opposite."""

    present: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()


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
        Which actions are safety steps, checks, remedies.
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
    sources: Mapping[str, Source]
    phrases: PhraseBook
    files: Mapping[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class Knowledge(Entries):
    """All that is known about failed prints, ready for inference.

    `version` changes whenever the content does; `network` holds the number tables.
    """

    version: str
    network: Network
