"""Figures are read with comma, point and unit; nonsense is refused with a sentence."""

import pytest
from django.core.exceptions import ValidationError

from helpdesk.core.fields import count_letters, read_measure
from helpdesk.incoming.measures import FAILED_AT, LAYER_HEIGHT, NOZZLE_HEAT, SPEED


@pytest.mark.parametrize(
    ("measure", "text", "value"),
    [
        (LAYER_HEIGHT, "0,2", 0.2),
        (LAYER_HEIGHT, "0.2 mm", 0.2),
        (LAYER_HEIGHT, "200 µm", 0.2),
        (LAYER_HEIGHT, "50 microns", 0.05),
        (FAILED_AT, "43mm", 43),
        (FAILED_AT, "~43 mm", 43),
        (FAILED_AT, "about 4,3 cm", 43),
        (FAILED_AT, "\uff14\uff13", 43),
        (FAILED_AT, "\u0664\u0663\u066b\u0665", 43.5),
        (NOZZLE_HEAT, "210 °C", 210),
        (NOZZLE_HEAT, "210℃", 210),
        (NOZZLE_HEAT, "210 degrees C", 210),
        (NOZZLE_HEAT, "410 °F", 210),
        (SPEED, "60 mm/s", 60),
        (SPEED, "3600 mm/min", 60),
    ],
)
def test_read_measure_understands_how_people_write(measure, text, value):
    """Comma, point, blanks, units, wide and Arabic digits give the figure in the desk's unit."""
    assert read_measure(text, measure) == pytest.approx(value, abs=1e-4)


@pytest.mark.parametrize(
    "text", ["4,3cm-ish", "tall", "43 apples", "NaN", "inf", "1e9", "43; drop", "0x2b", "4 3", "--"]
)
def test_read_measure_refuses_nonsense(text):
    """What is no figure is refused with how to write one."""
    with pytest.raises(ValidationError, match=r"Give the height in millimetres as a number"):
        read_measure(text, FAILED_AT)


@pytest.mark.parametrize("text", ["-1", "−5", "9999999", "40000"])
def test_read_measure_refuses_what_cannot_be(text):
    """A figure out of range is refused with the range."""
    with pytest.raises(ValidationError, match="we expect 0 to 3000 mm"):
        read_measure(text, FAILED_AT)


@pytest.mark.parametrize(
    ("text", "count"), [("\U0001f62d\U0001f525!!! 123", 0), ("喷头堵了", 4), ("النص", 4), ("ok", 2)]
)
def test_count_letters_counts_every_script(text, count):
    """Letters of any script count; pictures, digits and signs do not."""
    assert count_letters(text) == count
