"""How the clock of the week writes times."""

from django import template

register = template.Library()


@register.filter
def span_h(hours: float | None) -> str:
    """Return a time in hours in the unit a person would say it in."""
    if hours is None:
        return "not reached yet"
    if hours < 1:
        return f"{round(hours * 60)} min"
    return f"{hours:.1f} h" if hours < 48 else f"{hours / 24:.1f} days"


@register.filter
def change(count: int) -> str:
    """Return by how much something grew, with its sign and a true minus."""
    return f"{count:+d}".replace("-", "−") if count else "0"
