"""What comes after a show, in the background."""

from helpdesk.core.jobs import regular_round


@regular_round("purge-roll-drafts")
def purge_roll_drafts() -> None:
    """Forget lists of supporters nobody brought in."""
    from helpdesk.aftershow.services import purge_drafts

    purge_drafts()
