"""Settings and measures with units, as people type them."""

from dataclasses import fields

import pytest

from tests.triage.reading.vocabulary import READER
from triage.reading import NumberFact

UNITS = [
    ("1st layer 0.3 mm", {}),
    ("1,000 mm of filament", {}),
    ("moves at 3,600 mm/min", {"speed_mm_s": 60.0}),
    ("the fan drops a percent", {}),
    ("it fails 4in up", {"failed_at_mm": 101.6}),
    ("it runs at 50mmps", {"speed_mm_s": 50.0}),
    ("5 mm / layer", {}),
    ("goes 5 mm per", {}),
    ("205 hot end and 60 bed", {"nozzle_c": 205.0, "bed_c": 60.0}),
    ("retraction rate 40", {"retraction_mm_s": 40.0}),
    ("it took 3 hours", {}),
    ("every 2 hours", {}),
    ("it jams after 2 hours 30 prints later", {"failed_after_h": 2.0}),
    ("it jams after 20 minutes and a half", {"failed_after_h": 1 / 3}),
    ("no fan on the first layers", {}),
    ("nozzle 300 layers", {}),
    ("hotend 5 walls", {"walls": 5.0}),
    ("it jams after 2 hours and a half", {"failed_after_h": 2.5}),
    ("it fails 20% of the way", {}),
    ("flow 5 mm", {}),
    ("exposure 8", {"exposure_s": 8.0}),
    ("exposure 5 mm", {}),
    ("flow 300", {}),
    ("jerk 10 mm/s", {}),
    ("123456789012345 nozzle", {}),
    ("1.2.3 nozzle", {}),
    ("two mm wide", {}),
    ("temp 20", {}),
    ("it jammed 3 times", {}),
    ("I use a 0.4 nozzle.", {"nozzle_mm": 0.4}),
    ("With a 0,6 mm nozzle", {"nozzle_mm": 0.6}),
    (".4mm nozzle, .2mm layers", {"nozzle_mm": 0.4, "layer_height_mm": 0.2}),
    ("nozzle size 0.8", {"nozzle_mm": 0.8}),
    ("nozzle is .25", {"nozzle_mm": 0.25}),
    ("nozzle diameter: 0.4 mm", {"nozzle_mm": 0.4}),
    ("0.4mm brass nozzle at 205C", {"nozzle_mm": 0.4, "nozzle_c": 205.0}),
    ("a 0.4 hardened steel nozzle", {"nozzle_mm": 0.4}),
    ("layer height 0.2", {"layer_height_mm": 0.2}),
    ("layer height of 0.12mm", {"layer_height_mm": 0.12}),
    ("Layer Height = 0.28 mm", {"layer_height_mm": 0.28}),
    ("0.3mm layer height", {"layer_height_mm": 0.3}),
    ("at 0,15 layers", {"layer_height_mm": 0.15}),
    ("200 micron layers", {"layer_height_mm": 0.2}),
    ("printing at 200 microns", {"layer_height_mm": 0.2}),
    ("50 µm layers on the resin machine", {"layer_height_mm": 0.05}),
    ("first layer 0.3 mm", {}),
    ("210/60", {"nozzle_c": 210.0, "bed_c": 60.0}),
    ("215/60C", {"nozzle_c": 215.0, "bed_c": 60.0}),
    ("PLA at 200C/55C", {"nozzle_c": 200.0, "bed_c": 55.0}),
    ("nozzle 215 bed 60", {"nozzle_c": 215.0, "bed_c": 60.0}),
    ("Nozzle: 215, bed: 60", {"nozzle_c": 215.0, "bed_c": 60.0}),
    ("215 nozzle, 60 bed", {"nozzle_c": 215.0, "bed_c": 60.0}),
    ("215 nozzle 60 bed", {"nozzle_c": 215.0, "bed_c": 60.0}),
    ("at 200C", {"nozzle_c": 200.0}),
    ("white PLA at 190º", {"nozzle_c": 190.0}),
    ("at 410F", {"nozzle_c": 210.0}),
    ("at 410°F with the bed at 140 F", {"nozzle_c": 210.0, "bed_c": 60.0}),
    ("hotend at 235 degrees, heated bed at 85 degrees", {"nozzle_c": 235.0, "bed_c": 85.0}),
    ("hot end 240°C", {"nozzle_c": 240.0}),
    ("bed temp 110°C", {"bed_c": 110.0}),
    ("60 degree bed", {"bed_c": 60.0}),
    ("the bed is at 70", {"bed_c": 70.0}),
    ("extruder temperature is 230", {"nozzle_c": 230.0}),
    ("temp 220", {"nozzle_c": 220.0}),
    ("between 210 and 220 °C", {"nozzle_c": 215.0}),
    ("210-220c", {"nozzle_c": 215.0}),
    ("from 200 to 215 degrees", {"nozzle_c": 207.5}),
    ("printed at 200 and 60", {}),
    ("200 °C and 60 °C", {"nozzle_c": 200.0, "bed_c": 60.0}),
    ("I dried it at 65C for 6 hours", {"dry_c": 65.0, "dry_h": 6.0}),
    ("60mm/s", {"speed_mm_s": 60.0}),
    ("60 mm / s", {"speed_mm_s": 60.0}),
    ("50 mm per second", {"speed_mm_s": 50.0}),
    ("3600 mm/min", {"speed_mm_s": 60.0}),
    ("print speed 80", {"speed_mm_s": 80.0}),
    ("speed of 45mm/sec", {"speed_mm_s": 45.0}),
    ("travel 150mm/s, print 50mm/s", {"speed_mm_s": 50.0}),
    ("retraction 5mm at 40mm/s", {"retraction_mm": 5.0, "retraction_mm_s": 40.0}),
    ("acceleration 3000 mm/s2", {}),
    ("acceleration 3000 mm/s²", {}),
    ("12 mm³/s", {}),
    ("fails at 43 mm", {"failed_at_mm": 43.0}),
    ("it stops about 2 cm up", {"failed_at_mm": 20.0}),
    ("it fails at 4 inches", {"failed_at_mm": 101.6}),
    ("fails 4 inches up", {"failed_at_mm": 101.6}),
    ('stops at 4"', {"failed_at_mm": 101.6}),
    ("shifts at a height of 31,5 mm", {"failed_at_mm": 31.5}),
    ("at z = 12 mm it jams", {"failed_at_mm": 12.0}),
    ("it fails 1½ cm from the bed", {"failed_at_mm": 15.0}),
    ("fails at 1 1/2 inches", {"failed_at_mm": 38.1}),
    ("layers shifted by 5 mm", {}),
    ("a 20 mm cube", {}),
    ("a 100mm tall vase", {}),
    ("shifted about 5 mm to the left", {}),
    ("fails at 20-30 mm", {"failed_at_mm": 25.0}),
    ("fails after about an hour", {"failed_after_h": 1.0}),
    ("20 min in it clogs", {"failed_after_h": 0.3333}),
    ("two hours into the print", {"failed_after_h": 2.0}),
    ("stops after half an hour", {"failed_after_h": 0.5}),
    ("after an hour and a half it jams", {"failed_after_h": 1.5}),
    ("after 1h30 it jams", {"failed_after_h": 1.5}),
    ("after 1h 45m", {"failed_after_h": 1.75}),
    ("after a couple of hours", {"failed_after_h": 2.0}),
    ("it prints fine for 3 hours", {"failed_after_h": 3.0}),
    ("after 2-3 hours", {"failed_after_h": 2.5}),
    ("a 12 hour print", {}),
    ("fan 50%", {"fan_pct": 50.0}),
    ("fan at 100 %", {"fan_pct": 100.0}),
    ("50% fan", {"fan_pct": 50.0}),
    ("part cooling fan set to 30 percent", {"fan_pct": 30.0}),
    ("the fan is off", {"fan_pct": 0.0}),
    ("no fan", {"fan_pct": 0.0}),
    ("fan speed 80%", {"fan_pct": 80.0}),
    ("retraction 6.5", {"retraction_mm": 6.5}),
    ("retraction distance of 0.8 mm", {"retraction_mm": 0.8}),
    ("5 mm retraction", {"retraction_mm": 5.0}),
    ("retraction speed 40", {"retraction_mm_s": 40.0}),
    ("flow 95%", {"flow_pct": 95.0}),
    ("95% flow", {"flow_pct": 95.0}),
    ("extrusion multiplier 0.95", {"flow_pct": 95.0}),
    ("flow rate at 110", {"flow_pct": 110.0}),
    ("20% infill", {}),
    ("exposure 2.5s", {"exposure_s": 2.5}),
    ("8 second exposure", {"exposure_s": 8.0}),
    ("nozzle was 0.1 mm too close", {}),
    ("1.75mm filament", {}),
    ("I changed the nozzle 3 times", {}),
    ("room is 21C", {}),
    (
        "PETG, 240/80, 0.4mm nozzle, 0.2mm layers, 50mm/s, fan 30%, retraction 1 mm",
        {
            "nozzle_c": 240.0,
            "bed_c": 80.0,
            "nozzle_mm": 0.4,
            "layer_height_mm": 0.2,
            "speed_mm_s": 50.0,
            "fan_pct": 30.0,
            "retraction_mm": 1.0,
        },
    ),
    ("nozzle 0.4 at 215 bed 60", {"nozzle_mm": 0.4, "nozzle_c": 215.0, "bed_c": 60.0}),
    ("printing with a .4mm at .2", {"nozzle_mm": 0.4}),
    ("chamber 45C", {}),
    ("version 1.2.3 of the firmware", {}),
    (
        "0.4mm nozzle/0.2mm layer/200C/60C",
        {"nozzle_mm": 0.4, "layer_height_mm": 0.2, "nozzle_c": 200.0, "bed_c": 60.0},
    ),
]

IMPOSSIBLE = [
    ("nozzle at 21C", "nozzle_c", 21.0),
    ("4 mm nozzle", "nozzle_mm", 4.0),
    ("bed at 600C", "bed_c", 600.0),
    ("fan at 250%", "fan_pct", 250.0),
    ("nozzle 410", "nozzle_c", 410.0),
    ("retraction 65mm", "retraction_mm", 65.0),
    ("at 6000 mm/s", "speed_mm_s", 6000.0),
    ("2 mm layers", "layer_height_mm", 2.0),
    ("flow 5%", "flow_pct", 5.0),
]

RANGES = [
    ("between 210 and 220 °C", "nozzle_c", (210.0, 220.0)),
    ("210-220c", "nozzle_c", (210.0, 220.0)),
    ("from 200 to 215 degrees", "nozzle_c", (200.0, 215.0)),
    ("it fails at 20-30 mm", "failed_at_mm", (20.0, 30.0)),
    ("it clogs after 2-3 hours", "failed_after_h", (2.0, 3.0)),
    ("bed at 60c to 65c", "bed_c", (60.0, 65.0)),
]


def numbers(text: str) -> dict[str, NumberFact]:
    """Return the number facts of a text by name."""
    facts = READER.read(text).facts
    values = {entry.name: getattr(facts, entry.name) for entry in fields(facts)}
    return {name: value for name, value in values.items() if isinstance(value, NumberFact)}


@pytest.mark.parametrize(("text", "expected"), UNITS)
def test_facts_reads_settings_with_units(text: str, expected: dict[str, float]) -> None:
    """A setting is read in its unit, and a number that is no setting is not read."""
    found = {name: fact.value for name, fact in numbers(text).items()}

    assert found == pytest.approx(expected, abs=5e-5)


@pytest.mark.parametrize(("text", "expected"), UNITS)
def test_facts_quotes_exactly(text: str, expected: dict[str, float]) -> None:
    """The quote of a setting is the text at its span."""
    for fact in numbers(text).values():
        assert text[slice(*fact.span)] == fact.quote


@pytest.mark.parametrize(("text", "name", "ends"), RANGES)
def test_facts_keeps_both_ends_of_a_range(text: str, name: str, ends: tuple[float, float]) -> None:
    """A range gives its middle and keeps its ends."""
    fact = numbers(text)[name]

    assert (fact.low, fact.high) == ends
    assert fact.value == pytest.approx(sum(ends) / 2)


@pytest.mark.parametrize(("text", "name", "value"), IMPOSSIBLE)
def test_facts_asks_about_impossible_values(text: str, name: str, value: float) -> None:
    """A value that cannot be meant is kept as a question, not swallowed and not used."""
    facts = READER.read(text).facts

    (query,) = facts.queries
    assert query.field == name
    assert query.value == pytest.approx(value)
    assert getattr(facts, name) is None
    assert text[slice(*query.span)] == query.quote
    assert query.why.endswith(".")


@pytest.mark.parametrize(
    "text",
    [
        "It prints a plate with 200 small holes.",
        "Tube off the hot end: 88 again, and 88 once more.",
        "By 20 mm the nozzle was rubbing on them.",
        "All the next layers are 5 mm over.",
        "The log shows an exchange at 1290 h.",
        "The hot-end temperature swings by 7 K.",
        "A crack along one wall, and the roof between two walls hangs through.",
        "It ran dry around the two-hour mark.",
        "Another maker: flat within 0.01. My machine: H frame with two loops.",
        "My FDM printer and our Resin printer. A spool from March. Brand new machine.",
    ],
)
def test_facts_neither_reads_nor_asks_about_other_numbers(text: str) -> None:
    """What only looks like a setting or a name is neither a fact nor worth checking."""
    facts = READER.read(text).facts

    assert not numbers(text)
    assert facts.queries == ()
    assert facts.maker is None
    assert facts.machine_name is None


def test_facts_asks_once_about_each_setting() -> None:
    """Of several impossible values of one setting the first is asked about."""
    queries = READER.read("bed at 600C. bed at 700C. nozzle at 21C.").facts.queries

    assert [(query.field, query.value) for query in queries] == [("bed_c", 600), ("nozzle_c", 21)]


def test_facts_takes_the_first_of_two_values() -> None:
    """The first value of a setting counts."""
    found = numbers("Nozzle at 215C. Then I tried the nozzle at 230C.")

    assert found["nozzle_c"].value == 215.0


@pytest.mark.parametrize(
    ("text", "process"),
    [
        ("The filament jams in the nozzle", "MEX"),
        ("The part stays in the vat and the resin is cold", "VPP"),
        ("PETG keeps coming off", "MEX"),
        ("standard resin, prints fall off", "VPP"),
        ("It does not work", None),
    ],
)
def test_facts_tells_the_process_by_its_words(text: str, process: str | None) -> None:
    """Resin words mean vat photopolymerization, filament words material extrusion."""
    fact = READER.read(text).facts.process

    assert (fact and fact.value) == process


@pytest.mark.parametrize(
    ("text", "material"),
    [
        ("Printing PLA+ at 210", "PLA"),
        ("PLA prints fine, PETG strings", "PETG"),
        ("I switched from PLA to PETG", "PETG"),
        ("I never had this with ABS. It is PLA.", "PLA"),
        ("PLA or PETG", "PLA"),
        ("no idea what it is", None),
    ],
)
def test_facts_tells_the_material_meant(text: str, material: str | None) -> None:
    """A material named as a contrast is not the one of the print."""
    fact = READER.read(text).facts.material

    assert (fact and fact.value) == material


def test_facts_puts_what_is_known_before_what_is_read() -> None:
    """Process and material given with the report outweigh the words."""
    facts = READER.read("resin in the vat", process="MEX", material="ABS").facts

    assert facts.process is not None
    assert facts.material is not None
    assert (facts.process.value, facts.process.span) == ("MEX", None)
    assert (facts.material.value, facts.material.span) == ("ABS", None)
