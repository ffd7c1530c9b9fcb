"""Captions of a show, its planned parts and its segments, as frozen values."""

from dataclasses import dataclass
from typing import Literal, get_args

from triage.errors import InputError, OutOfRangeError

Kind = Literal["intro", "case", "notice", "outro"]
KINDS: tuple[Kind, ...] = get_args(Kind)


@dataclass(frozen=True, slots=True)
class Cue:
    """Words shown for a while.

    Parameters
    ----------
    start_s, end_s : float, 0 or more
        Seconds from the start of the recording.
    text : str
        Plain words, without tags; several lines are parted by line breaks.
    speaker : str
        Who speaks, where the file says so; otherwise empty.
    """

    start_s: float
    end_s: float
    text: str
    speaker: str = ""


@dataclass(frozen=True, slots=True)
class Captions:
    """What a file of captions holds.

    Parameters
    ----------
    cues : tuple of Cue, 1 or more
        In the order of their starts.
    notes : tuple of str
        Sentences about what was mended or is no speech; nothing was lost.
    problems : tuple of str
        Sentences about what could not be used, each with its line.
    file_format : {"webvtt", "subrip"}
        Told by the content, not by a name.
    encoding : str
        Of the bytes: "utf-8", "utf-16", "utf-32" or "latin-1".
    is_automatic : bool
        Whether they look made by speech recognition: rolling lines, times of words, or hardly
        any full stop or capital.
    is_mixed : bool
        Whether a good part of the words seems to be in another language than English.
    """

    cues: tuple[Cue, ...]
    notes: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()
    file_format: Literal["webvtt", "subrip"] = "webvtt"
    encoding: str = "utf-8"
    is_automatic: bool = False
    is_mixed: bool = False

    @property
    def duration_s(self) -> float:
        """End of the last words, in seconds."""
        return max(cue.end_s for cue in self.cues)


@dataclass(frozen=True, slots=True)
class PlannedPart:
    """One part of a run sheet, as the planned show has it.

    Parameters
    ----------
    kind : {"intro", "case", "notice", "outro"}
    slug : str
        Its short name, which becomes the title of its segment.
    script : str
        Words meant to be spoken, in their order.
    words : str
        All else that is known of the part: talking points, the story of the case, its printer,
        its material.
    planned_s : float or None, above 0
        How long it was to take.
    started_s : float or None, 0 or more
        When it really started, in seconds of the recording, if somebody noted it.

    Raises
    ------
    InputError
        If the kind is unknown.
    OutOfRangeError
        If a time is out of its range.
    """

    kind: Kind
    slug: str
    script: str = ""
    words: str = ""
    planned_s: float | None = None
    started_s: float | None = None

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            msg = f"a part is one of {', '.join(KINDS)}, not '{self.kind}'"
            raise InputError(msg)
        if self.planned_s is not None and not 0.0 < self.planned_s < float("inf"):
            msg = f"part '{self.slug}': planned {self.planned_s} s must be above 0"
            raise OutOfRangeError(msg)
        if self.started_s is not None and not 0.0 <= self.started_s < float("inf"):
            msg = f"part '{self.slug}': started at {self.started_s} s, must be 0 or more"
            raise OutOfRangeError(msg)


@dataclass(frozen=True, slots=True)
class CaptionSegment:
    """One stretch of a show.

    Parameters
    ----------
    start_s, end_s : float
        Segments follow each other without gap; the last ends with the last words.
    kind : {"intro", "case", "notice", "outro"}
    title : str
        The planned part's short name, or words of the segment itself.
    text : str
        What is said in it, as one line.
    part : int or None
        Place of the planned part in the run sheet, counted from 0; None when it was not planned.
    confidence : float, 0 to 1
        Probability, under the model, that a segment starts within 10 s of this start.
    """

    start_s: float
    end_s: float
    kind: Kind
    title: str
    text: str
    part: int | None
    confidence: float
