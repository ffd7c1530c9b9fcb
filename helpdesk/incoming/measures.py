"""What a person's figures about a print may be, in the desk's units."""

from collections.abc import Mapping

from helpdesk.core.fields import SPEEDS, TEMPERATURES, Measure

LAYER_HEIGHT = Measure(
    ask="Give the layer height in millimetres as a number, such as 0.2.",
    check="Please check the layer height: we expect 0.005 to 5 mm.",
    low=0.005,
    high=5,
)
NOZZLE = Measure(
    ask="Give the nozzle’s width in millimetres as a number, such as 0.4.",
    check="Please check the nozzle’s width: we expect 0.05 to 10 mm.",
    low=0.05,
    high=10,
)
NOZZLE_HEAT = Measure(
    ask="Give the nozzle’s temperature in °C as a number, such as 210.",
    check="Please check the nozzle’s temperature: we expect 0 to 600 °C.",
    low=0,
    high=600,
    units=TEMPERATURES,
)
PLATE_HEAT = Measure(
    ask="Give the plate’s temperature in °C as a number, such as 60.",
    check="Please check the plate’s temperature: we expect 0 to 250 °C.",
    low=0,
    high=250,
    units=TEMPERATURES,
)
SPEED = Measure(
    ask="Give the speed in millimetres a second as a number, such as 60.",
    check="Please check the speed: we expect 0.1 to 3000 mm/s.",
    low=0.1,
    high=3000,
    units=SPEEDS,
)
FAILED_AT = Measure(
    ask="Give the height in millimetres as a number, such as 43.",
    check="Please check the height: we expect 0 to 3000 mm.",
    low=0,
    high=3000,
)
FACT_MEASURES: Mapping[str, Measure] = {
    "layer_height_mm": LAYER_HEIGHT,
    "nozzle_mm": NOZZLE,
    "nozzle_c": NOZZLE_HEAT,
    "bed_c": PLATE_HEAT,
    "speed_mm_s": SPEED,
    "failed_at_mm": FAILED_AT,
}
