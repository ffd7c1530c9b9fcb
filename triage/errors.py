"""Errors the engine raises.

::

    TriageError
    ├── KnowledgeError          the knowledge files are wrong; names file, key and nearest name
    ├── WorkerEndedError        a worker process ended before its work was done
    └── InputError              what was handed in cannot be used
        ├── CaptionError        a file of captions holds no cue that can be read
        ├── UnknownIdError      an id the knowledge does not hold; names the nearest one
        ├── OutOfRangeError     a number outside the range in which it means something
        └── ImpossibleEvidenceError   the evidence has probability zero under the knowledge
"""

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches


def nearest_name(name: str, valid: Iterable[str]) -> str | None:
    """Return the valid name that looks most like `name`, or None when none is close."""
    found = get_close_matches(name, sorted(valid), n=1, cutoff=0.5)
    return found[0] if found else None


def suggest(name: str, valid: Iterable[str]) -> str:
    """Return the half-sentence "; nearest is …" for an error message, or an empty string."""
    near = nearest_name(name, valid)
    return f"; the nearest valid name is '{near}'" if near else ""


class TriageError(Exception):
    """Any error the engine raises on purpose."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with the knowledge.

    Parameters
    ----------
    file : str
        The file's path inside the knowledge folder, or "" when there is none.
    key : str
        The entry and key, such as ``fault filament-wet: prior``, or "".
    message : str
        What is wrong, with the value, the limit and the nearest valid name.
    """

    file: str
    key: str
    message: str

    def __str__(self) -> str:
        return ": ".join(part for part in (self.file, self.key, self.message) if part)


class KnowledgeError(TriageError):
    """The knowledge cannot be used; `problems` lists everything found wrong."""

    def __init__(self, *problems: Problem) -> None:
        self.problems = problems
        more = len(problems) - 1
        super().__init__(f"{problems[0]}" + (f" (and {more} more)" if more else ""))


class WorkerEndedError(TriageError):
    """A worker process ended before its work was done, for want of memory most likely."""


class InputError(TriageError):
    """What was handed in cannot be used."""


class CaptionError(InputError):
    """A file of captions cannot be used: it is empty, no text, or holds no cue with words."""


class UnknownIdError(InputError):
    """An id is not in the knowledge."""

    def __init__(self, kind: str, name: str, valid: Iterable[str]) -> None:
        self.kind = kind
        self.name = name
        super().__init__(f"unknown {kind} '{name}'{suggest(name, valid)}")


class OutOfRangeError(InputError):
    """A number lies outside the range in which it means something."""


class ImpossibleEvidenceError(InputError):
    """The evidence has probability zero under the knowledge."""
