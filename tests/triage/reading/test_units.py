"""Units of quantities against pint, a general-purpose library of units, as judge."""

from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.reading.quantities import Quantity, read_quantities
from triage.reading.tokens import tokenise

UNITS: Any = pint.UnitRegistry()
RELATIVE = 1e-6  # quantities are kept to nine decimals

LENGTHS = {
    "mm": "millimeter",
    "cm": "centimeter",
    "inches": "inch",
    '"': "inch",
    "in": "inch",
    "thou": "thou",
    "µm": "micrometer",
    "um": "micrometer",
    "microns": "micrometer",
}
TIMES = {
    "h": "hour",
    "hrs": "hour",
    "hours": "hour",
    "min": "minute",
    "minutes": "minute",
    "s": "second",
    "seconds": "second",
}
SPEEDS = {
    "mm/s": "mm/s",
    " mm per second": "mm/s",
    "mm/min": "mm/minute",
    " cm/s": "cm/s",
    "in/s": "inch/s",
    " in/s": "inch/s",
    " inches per second": "inch/s",
    " inches/min": "inch/minute",
}
TEMPERATURES = {
    "C": "degC",
    "°C": "degC",
    " degrees C": "degC",
    "F": "degF",
    "°F": "degF",
    " degrees Fahrenheit": "degF",
}
NUMBERS = st.decimals(min_value="0.01", max_value=9999, places=2).map(str)


def read_one(text: str) -> Quantity:
    """Return the only quantity of a text."""
    (quantity,) = read_quantities(tokenise(text))
    return quantity


def judged(number: str, unit: str, into: str) -> float:
    """Return what pint makes of a number with a unit."""
    return float(UNITS.Quantity(float(number), unit).to(into).magnitude)


@pytest.mark.parametrize(("typed", "unit"), LENGTHS.items())
@given(number=NUMBERS)
def test_units_of_length_are_millimetres(typed: str, unit: str, number: str) -> None:
    """Every unit of length is turned into millimetres as pint turns it."""
    found = read_one(f"{number}{typed}")

    assert found.dimension == "length"
    assert found.value == pytest.approx(judged(number, unit, "mm"), rel=RELATIVE, abs=1e-8)


@pytest.mark.parametrize(("typed", "unit"), TIMES.items())
@given(number=NUMBERS)
def test_units_of_time_are_hours(typed: str, unit: str, number: str) -> None:
    """Every unit of time is turned into hours as pint turns it."""
    found = read_one(f"{number} {typed}")

    assert found.dimension == "time"
    assert found.value == pytest.approx(judged(number, unit, "hour"), rel=RELATIVE, abs=1e-8)


@pytest.mark.parametrize(("typed", "unit"), SPEEDS.items())
@given(number=NUMBERS)
def test_units_of_speed_are_millimetres_a_second(typed: str, unit: str, number: str) -> None:
    """Every unit of speed is turned into mm/s as pint turns it."""
    found = read_one(f"{number}{typed}")

    assert found.dimension == "speed"
    assert found.value == pytest.approx(judged(number, unit, "mm/s"), rel=RELATIVE, abs=1e-8)


@pytest.mark.parametrize(("typed", "unit"), TEMPERATURES.items())
@given(number=NUMBERS)
def test_units_of_temperature_are_celsius(typed: str, unit: str, number: str) -> None:
    """Celsius and Fahrenheit are told apart, and turned as pint turns them."""
    found = read_one(f"{number}{typed}")

    assert found.dimension == "temperature"
    assert found.has_scale
    assert found.value == pytest.approx(judged(number, unit, "degC"), rel=RELATIVE, abs=1e-6)


@given(hours=st.integers(1, 99), minutes=st.integers(1, 59))
def test_units_of_time_add_up(hours: int, minutes: int) -> None:
    """Hours and minutes behind each other are one time."""
    expected = UNITS.Quantity(hours, "hour") + UNITS.Quantity(minutes, "minute")

    for text in (f"{hours}h{minutes:02}", f"{hours}h {minutes}m", f"{hours} h {minutes} min"):
        assert read_one(text).value == pytest.approx(expected.to("hour").magnitude, rel=RELATIVE)
