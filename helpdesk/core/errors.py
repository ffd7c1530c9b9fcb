"""Errors the desk raises on purpose.

DeskError
├── StaleVersionError   somebody else saved first
├── WrongStateError     the step does not fit the state the thing is in
└── RefusedInputError   what was sent cannot be used; the message says why
"""


class DeskError(Exception):
    """Base of every error a service raises on purpose."""


class StaleVersionError(DeskError):
    """Somebody else saved a newer version while this one was being written."""


class WrongStateError(DeskError):
    """The step does not fit the state the thing is in."""


class RefusedInputError(DeskError):
    """What was sent cannot be used; the message says why and what to do."""
