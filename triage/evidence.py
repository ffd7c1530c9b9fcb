"""What is known about one failed print, as plain frozen values."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from triage.errors import OutOfRangeError

State = Literal["present", "absent"]
TriedResult = Literal["no-change", "helped", "cured", "unknown"]
Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Observation:
    """One look at one finding.

    Parameters
    ----------
    finding : str
        Id of the finding.
    state : {"present", "absent"}
        What the look says.
    if_present, if_absent : float, 0 to 1
        Likelihood pair: probability of what was observed when the finding is really present,
        and when it is really absent. Left out, the observation is certain: (1, 0) for
        "present" and (0, 1) for "absent". The pair may not be (0, 0).
    source : str
        Where it comes from: "text", "form", "photo", "reviewer", …
    quote : str or None
        The words it was read from.
    span : (int, int) or None
        Where those words stand, as character offsets into the text.

    Raises
    ------
    OutOfRangeError
        If a likelihood is outside 0 to 1, or both are 0.
    """

    finding: str
    state: State
    if_present: float = -1.0
    if_absent: float = -1.0
    source: str = "form"
    quote: str | None = None
    span: Span | None = None

    def __post_init__(self) -> None:
        if self.if_present == -1.0 and self.if_absent == -1.0:
            certain = self.state == "present"
            object.__setattr__(self, "if_present", 1.0 if certain else 0.0)
            object.__setattr__(self, "if_absent", 0.0 if certain else 1.0)
        pair = (self.if_present, self.if_absent)
        if not all(0.0 <= value <= 1.0 for value in pair) or pair == (0.0, 0.0):
            msg = f"finding '{self.finding}': likelihoods {pair} must lie in 0 to 1, not both 0"
            raise OutOfRangeError(msg)

    @property
    def is_certain(self) -> bool:
        """Whether the observation leaves no doubt about the finding."""
        return 0.0 in (self.if_present, self.if_absent)

    def tempered(self, share: float) -> "Observation":
        """Return the observation with a share, 0 to 1, of its weight of evidence."""
        return replace(self, if_present=self.if_present**share, if_absent=self.if_absent**share)


@dataclass(frozen=True, slots=True)
class TriedRemedy:
    """Something the person says they have already done, and what came of it."""

    action: str
    result: TriedResult = "unknown"
    quote: str | None = None
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Guess:
    """A cause the person supposes: weak evidence, never a finding."""

    fault: str
    quote: str | None = None
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything the engine takes into account for one failed print.

    Parameters
    ----------
    process : {"MEX", "VPP"} or None
        Printing process after ISO/ASTM 52900; None when it is not known.
    material : str or None
        Material code of the knowledge; None when it is not known.
    machine : str or None
        Kind of machine, by its id in the knowledge; None when it is not known.
    observations : tuple of Observation
        Looks at findings; several about one finding are allowed.
    risks : tuple of str
        Ids of the circumstances that hold.
    tried : tuple of TriedRemedy
        What was tried before.
    guesses : tuple of Guess
        Causes the person supposes.
    telling : float, 0 to below 1
        Probability that a person who writes freely tells of what is there to see or hear. Above
        0, silence about a finding is weak evidence that it is absent.
    text : mapping of str to float
        What the text as a whole says: for a fault the natural logarithm of
        P(text | fault) / P(text); 0 for faults left out.

    Raises
    ------
    OutOfRangeError
        If `telling` is out of its range or a logarithm is not finite.
    """

    process: str | None = None
    material: str | None = None
    machine: str | None = None
    observations: tuple[Observation, ...] = ()
    risks: tuple[str, ...] = ()
    tried: tuple[TriedRemedy, ...] = ()
    guesses: tuple[Guess, ...] = ()
    telling: float = 0.0
    text: Mapping[str, float] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        if not 0.0 <= self.telling < 1.0:
            msg = f"telling {self.telling:g} must lie between 0 and 1, 1 not included"
            raise OutOfRangeError(msg)
        for fault, ratio in self.text.items():
            if not math.isfinite(ratio):
                msg = f"fault '{fault}': the text's log-likelihood ratio {ratio} must be finite"
                raise OutOfRangeError(msg)
