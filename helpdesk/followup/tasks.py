"""What the worker does now and then."""

from helpdesk.core.jobs import regular_round
from helpdesk.followup.services import ask_due_cases, close_silent_cases, close_unheard_cases


@regular_round("ask-due-cases")
def ask_round() -> None:
    """Ask by mail how it went."""
    ask_due_cases()


@regular_round("close-unheard-cases")
def close_unheard_round() -> None:
    """Close what was asked in vain."""
    close_unheard_cases()


@regular_round("close-silent-cases")
def close_round() -> None:
    """Close what has gone silent."""
    close_silent_cases()
