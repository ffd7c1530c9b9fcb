"""The one way a share is printed: count, interval and basis together."""

from django import template

from helpdesk.supply.counting import Share

register = template.Library()


@register.inclusion_tag("supply/_share.html")
def share_with_basis(share: Share) -> dict[str, object]:
    """Print how many of how many, the 95 % interval, and what the figure rests on."""
    return {
        "share": share,
        "low": _whole(share.ends.low) if share.ends else None,
        "high": _whole(share.ends.high) if share.ends else None,
    }


def _whole(value: float) -> str:
    """Return a share as whole hundredths that claim neither never nor always."""
    if 0 < value < 0.005:
        return "under 1%"
    if 0.995 < value < 1:
        return "over 99%"
    return f"{value:.0%}"
