"""Errors of the learning app.

DeskError
└── WrongStateError
    ├── NothingToLearnError   no case has a verdict, or nothing is new since the newest revision
    └── InForceError          these numbers are in force already
"""

from helpdesk.core.errors import WrongStateError


class NothingToLearnError(WrongStateError):
    """There is no lesson, or none that the newest revision does not know."""


class InForceError(WrongStateError):
    """These numbers are in force already."""
