"""Applying the times of keeping now and then."""

from helpdesk.core.jobs import regular_round


@regular_round("apply-retention")
def apply_round() -> None:
    """Remove what is too old."""
    from helpdesk.keeping.services import apply_rules

    apply_rules()
