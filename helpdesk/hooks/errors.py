"""Errors of the hooks app.

DeskError
├── IdReusedError            an id came again with other words
├── BusyError                the message may be sent again later
│   └── TooOftenError        this source has sent too much
├── StillSendingError        another process is sending this very delivery
└── RefusedInputError
    ├── BadBodyError         the body is not JSON the desk reads
    └── BadMessageError      the JSON is not a message the desk knows; says where
"""

from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.core.errors import DeskError, RefusedInputError


class IdReusedError(DeskError):
    """The id of a message came again with another body."""


class BusyError(DeskError):
    """The desk takes nothing just now; the same message may be sent again later."""

    def __init__(self, words: str, *, wait_s: int) -> None:
        """Keep how long to wait, in seconds."""
        super().__init__(words)
        self.wait_s = wait_s


class TooOftenError(BusyError):
    """One source has sent more than it may."""


class StillSendingError(DeskError):
    """Another process holds the delivery; whether it arrives is not known yet."""


class BadBodyError(RefusedInputError):
    """The body cannot be read as JSON within the limits."""


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong: where, as a JSON pointer (RFC 6901), and what."""

    pointer: str
    detail: str


class BadMessageError(RefusedInputError):
    """The JSON is not a message the desk takes."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        """Keep every fault, for the answer."""
        super().__init__("; ".join(fault.detail for fault in faults))
        self.faults = tuple(faults)
