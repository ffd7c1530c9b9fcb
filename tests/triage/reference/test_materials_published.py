"""Materials against published figures, each read from the source it names."""

import math

import pytest

from triage.knowledge import Material, load_knowledge

MATERIALS = load_knowledge().materials
PRINTED_TWO_DECIMALS = 0.005  # g/cm³, half of the last digit printed


def source_of(material: Material, key: str) -> str:
    """Return the source the material gives for a number, which a test must agree with."""
    return material.source_of(key)


@pytest.mark.source("crawford1998")
@pytest.mark.parametrize(
    ("code", "key", "printed"),
    [
        ("ABS", "glass_c", 115.0),
        ("PC", "glass_c", 149.0),
        ("PET-CF", "glass_c", 75.0),
        ("ABS", "density_g_cm3", 1.04),
        ("ABS", "expansion_um_m_k", 90.0),
        ("PC", "expansion_um_m_k", 65.0),
    ],
)
def test_figures_of_the_textbook(code: str, key: str, printed: float) -> None:
    """Glass transition °C, density g/cm³ and expansion 1e-6/K as printed in table 1.8."""
    material = MATERIALS[code]

    assert source_of(material, key) == "crawford1998"
    assert getattr(material, key) == pytest.approx(printed, abs=PRINTED_TWO_DECIMALS)


@pytest.mark.source("spool-densities2025")
@pytest.mark.parametrize(
    ("code", "printed"), [("PLA", 1.24), ("PETG", 1.27), ("ABS", 1.04), ("ASA", 1.05)]
)
def test_densities_of_the_spool_table(code: str, printed: float) -> None:
    """Densities of filament as the table of 2025-10-25 has them."""
    assert MATERIALS[code].density_g_cm3 == pytest.approx(printed, abs=PRINTED_TWO_DECIMALS)


@pytest.mark.source("injection-guidelines")
@pytest.mark.parametrize(("code", "printed"), [("PA", 1.13), ("PC", 1.20)])
def test_densities_of_the_injection_guidelines(code: str, printed: float) -> None:
    """Densities that the guidelines print for PA6 and polycarbonate."""
    assert source_of(MATERIALS[code], "density_g_cm3") == "injection-guidelines"
    assert MATERIALS[code].density_g_cm3 == pytest.approx(printed, abs=PRINTED_TWO_DECIMALS)


@pytest.mark.source("pla-datasheet")
def test_polylactide_of_the_data_sheets() -> None:
    """Specific gravity 1.24 and a glass transition of 55 to 60 °C."""
    polylactide = MATERIALS["PLA"]

    assert polylactide.density_g_cm3 == pytest.approx(1.24, abs=PRINTED_TWO_DECIMALS)
    assert polylactide.glass_c is not None
    assert 55.0 <= polylactide.glass_c <= 60.0


@pytest.mark.source("mattpla-datasheet")
def test_filled_polylactide_of_the_data_sheet() -> None:
    """Density 1.31 g/cm³; glass transition 60.6 °C, kept to a whole degree."""
    filled = MATERIALS["PLA-FILLED"]

    assert filled.density_g_cm3 == pytest.approx(1.31, abs=PRINTED_TWO_DECIMALS)
    assert filled.glass_c == pytest.approx(60.6, abs=1.0)


@pytest.mark.source("omnexus-water")
@pytest.mark.parametrize(("code", "printed"), [("ABS", (0.05, 1.8)), ("ASA", (0.2, 0.3))])
def test_water_taken_up_in_a_day(code: str, printed: tuple[float, float]) -> None:
    """Ranges in % of mass after 24 hours."""
    assert source_of(MATERIALS[code], "water_pct") == "omnexus-water"
    assert MATERIALS[code].water_pct == printed


@pytest.mark.source("omnexus-expansion")
@pytest.mark.parametrize(("code", "printed"), [("ABS", (70.0, 150.0)), ("ASA", (60.0, 110.0))])
def test_expansion_lies_in_the_printed_range(code: str, printed: tuple[float, float]) -> None:
    """Expansion in 1e-6/K."""
    expansion = MATERIALS[code].expansion_um_m_k

    assert expansion is not None
    assert printed[0] <= expansion <= printed[1]


@pytest.mark.source("spool-densities2025", "injection-guidelines")
@pytest.mark.parametrize(
    ("code", "metres"), [("PLA", 335.28), ("PETG", 327.36), ("ABS", 399.76), ("PC", 346.46)]
)
def test_length_of_a_kilogram_follows_from_the_density(code: str, metres: float) -> None:
    """1,000 g over density times the section of 1.75 mm; the lengths were worked out by hand."""
    density = MATERIALS[code].density_g_cm3
    section_mm2 = math.pi * 1.75**2 / 4.0

    assert density is not None
    assert 1000.0 / (density * section_mm2) == pytest.approx(metres, abs=0.005)
