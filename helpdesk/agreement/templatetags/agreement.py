"""How the agreement pages print shares, kappas and places in a drawing."""

from django import template

from helpdesk.diagnosis.engine.statistics import Share

register = template.Library()


@register.filter
def share(value: Share) -> str:
    """Return a share as whole hundredths with its interval."""
    return f"{value.value:.0%} [{value.low:.0%}–{value.high:.0%}]"


@register.filter
def kappa(value: float | None) -> str:
    """Return a kappa with two decimals and a true minus, or a dash where there is none."""
    return "–" if value is None else f"{value:.2f}".replace("-", "−")


@register.filter
def unlocal(value: float) -> str:
    """Return a place in a drawing, with a decimal point whatever the language of the page."""
    return f"{value:g}"


@register.filter
def add_units(value: float, more: float) -> str:
    """Return a place in a drawing moved by some units."""
    return unlocal(value + float(more))
