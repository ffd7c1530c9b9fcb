"""Cues, segments and what the engine makes of them, as plain frozen values."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

SegmentKind = Literal["intro", "case", "notice", "outro"]


@dataclass(frozen=True, slots=True)
class CueLine:
    """Words shown for a while, seconds from the start of the recording."""

    start_s: float
    end_s: float
    text: str
    speaker: str = ""


@dataclass(frozen=True, slots=True)
class ReadFile:
    """What a file of captions holds."""

    cues: Sequence[CueLine]
    remarks: Sequence[str]
    file_format: str
    encoding: str
    is_automatic: bool
    is_mixed: bool


@dataclass(frozen=True, slots=True)
class Planned:
    """One part of a run sheet as the engine takes it; times in seconds."""

    kind: SegmentKind
    slug: str
    script: str = ""
    words: str = ""
    planned_s: float | None = None
    started_s: float | None = None


@dataclass(frozen=True, slots=True)
class CutSegment:
    """One stretch the engine found; `part` is the place of its planned part."""

    start_s: float
    kind: str
    title: str
    part: int | None
    confidence: float


@dataclass(frozen=True, slots=True)
class Suspect:
    """A fault suspected in what was said."""

    id: str
    name: str
    probability: float


@dataclass(frozen=True, slots=True)
class Corrected:
    """A show whose segments a person looked at: what the cutting learns from."""

    number: int
    cues: Sequence[CueLine]
    starts: Sequence[tuple[float, SegmentKind]]  # in seconds, with the kind that begins there
    end_s: float
