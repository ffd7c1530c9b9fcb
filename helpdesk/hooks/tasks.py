"""What hooks do in the background."""

from collections.abc import Mapping
from typing import Any

from helpdesk.core.jobs import job_handler, regular_round


@job_handler("take-hook-messages")
def take_hook_messages(payload: Mapping[str, Any]) -> None:
    """Do what the messages that wait ask for."""
    from helpdesk.hooks.taking import take_waiting

    take_waiting()


@job_handler("take-hook-message")
def take_hook_message(payload: Mapping[str, Any]) -> None:
    """Do what one message asks for that could not be done with the others."""
    from helpdesk.hooks.taking import take_message

    take_message(int(payload["message"]))


@job_handler("fetch-hook-picture")
def fetch_hook_picture(payload: Mapping[str, Any]) -> None:
    """Fetch one picture."""
    from helpdesk.hooks.pictures import fetch_picture

    fetch_picture(int(payload["picture"]))


@job_handler("announce-event")
def announce(payload: Mapping[str, Any]) -> None:
    """Write the deliveries of one event."""
    from helpdesk.hooks.announcing import announce_event

    announce_event(int(payload["event"]))


@job_handler("deliver-hook")
def deliver_hook(payload: Mapping[str, Any]) -> None:
    """Try one delivery."""
    from helpdesk.hooks.sending import deliver

    deliver(int(payload["delivery"]))


@job_handler("tell-hook-stop")
def tell_hook_stop(payload: Mapping[str, Any]) -> None:
    """Tell that a target was switched off."""
    from helpdesk.hooks.sending import tell_of_stop

    tell_of_stop(int(payload["target"]))


@regular_round("hook-log")
def purge_log() -> None:
    """Empty what is older than the log is kept."""
    from helpdesk.hooks.services import purge_old

    purge_old()
