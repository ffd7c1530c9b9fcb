"""Quantities brought into the unit in which a setting is kept."""

from dataclasses import replace

from triage.reading.quantities import Quantity


def as_flow(quantity: Quantity) -> tuple[str, Quantity]:
    """Return "flow_pct" and a percentage ("0.95" is 95 %), or "" when it can be no flow."""
    if quantity.dimension == "percent":
        return "flow_pct", quantity
    if quantity.dimension != "none":
        return "", quantity
    if 0.3 <= quantity.value <= 2.0:
        scaled = (round(100 * part, 6) for part in (quantity.value, quantity.low, quantity.high))
        value, low, high = scaled
        return "flow_pct", replace(quantity, value=value, low=low, high=high)
    return ("flow_pct" if 30.0 <= quantity.value <= 200.0 else ""), quantity


def as_exposure(quantity: Quantity) -> tuple[str, Quantity]:
    """Return "exposure_s" and seconds, or "" when it can be no exposure."""
    if quantity.dimension == "none":
        return ("exposure_s" if quantity.value <= 60.0 else ""), quantity
    if quantity.dimension != "time":
        return "", quantity
    value, low, high = (
        round(3600 * part, 3) for part in (quantity.value, quantity.low, quantity.high)
    )
    return "exposure_s", replace(quantity, value=value, low=low, high=high)
