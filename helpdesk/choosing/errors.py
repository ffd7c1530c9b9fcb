"""Errors of the choosing app.

DeskError
├── StaleVersionError
│   └── StaleChoiceError      the sheet or the cases changed since the proposal was made
├── WrongStateError
│   └── SolverError           the solver gave no proof
│       └── OutOfTimeError    it was not given the time for one
└── RefusedInputError
    └── ChoosingInputError    what is to be chosen from, or the rules, make no sense
"""

from helpdesk.core.errors import RefusedInputError, StaleVersionError, WrongStateError


class StaleChoiceError(StaleVersionError):
    """The sheet or the cases changed since the proposal was made."""


class SolverError(WrongStateError):
    """The solver gave no proof."""


class OutOfTimeError(SolverError):
    """The solver was not given the time for a proof."""


class ChoosingInputError(RefusedInputError):
    """What is to be chosen from, or the rules, make no sense."""
