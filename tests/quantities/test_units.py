"""Unit factors against their definitions and against printed tables.

Printed figures: NIST SP 811 (2008), Appendix B.8 (found in text). Exact ones: computed from the definitions
(international pound and inch, standard gravity, conventional mercury and water).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from leakdown.quantities import (
    ATMOSPHERE_PA,
    FLOW_PA_M3_S,
    LENGTH_M,
    PRESSURE_PA,
    TIME_S,
    VOLUME_M3,
    parse_flow,
    parse_pressure,
    standard_cm3_per_min,
)

GRAVITY = Fraction("9.80665")
INCH = Fraction("0.0254")
POUND = Fraction("0.45359237")
MERCURY = Fraction("13595.1")  # kg/m3, conventional
EXACT = {
    "psi": POUND * GRAVITY / INCH**2,
    "oz/in2": POUND * GRAVITY / INCH**2 / 16,
    "inHg": MERCURY * GRAVITY * INCH,
    "mmHg": MERCURY * GRAVITY / 1000,
    "cmHg": MERCURY * GRAVITY / 100,
    "Torr": Fraction(101325, 760),
    "inH2O": 1000 * GRAVITY * INCH,
    "cmH2O": 10 * GRAVITY,
    "mmH2O": GRAVITY,
    "kgf/cm2": GRAVITY * 10_000,
    "atm": Fraction(101325),
    "bar": Fraction(100_000),
    "mbar": Fraction(100),
    "hPa": Fraction(100),
    "Pa": Fraction(1),
    "kPa": Fraction(1000),
    "MPa": Fraction(1_000_000),
}
PRINTED = {
    "psi": "6894.757",
    "inHg": "3386.389",
    "mmHg": "133.3224",
    "cmHg": "1333.224",
    "Torr": "133.3224",
    "inH2O": "249.0889",
    "cmH2O": "98.0665",
    "mmH2O": "9.80665",
    "kgf/cm2": "98066.5",
    "bar": "100000",
    "atm": "101325",
}


def test_every_pressure_unit_has_its_definition_here():
    assert set(EXACT) == set(PRESSURE_PA)


@pytest.mark.parametrize("unit", EXACT)
def test_exact_definitions(unit):
    assert PRESSURE_PA[unit] == pytest.approx(float(EXACT[unit]), rel=1e-12)


@pytest.mark.parametrize("unit", PRINTED)
def test_printed_table_to_its_last_digit(unit):
    printed = PRINTED[unit]
    decimals = len(printed.partition(".")[2])
    assert round(PRESSURE_PA[unit], decimals) == float(printed)


def test_torr_is_not_quite_a_millimetre_of_mercury():
    """SP 811 footnote 12; the difference of 0.14 ppm is computed from the definitions."""
    assert PRESSURE_PA["mmHg"] / PRESSURE_PA["Torr"] - 1.0 == pytest.approx(1.424663e-7, rel=1e-3)
    assert parse_pressure("760 Torr").value_pa == pytest.approx(101_325.0, rel=1e-15)
    assert parse_pressure("760 mmHg").value_pa != pytest.approx(101_325.0, rel=1e-8)


@pytest.mark.parametrize(
    ("unit", "measured_pa", "share"),
    [
        ("inHg", 3386.38, 3e-6),  # mercury at 32 F
        ("inHg", 3376.85, 2.9e-3),  # mercury at 60 F
        ("inH2O", 249.082, 3e-5),  # water at 39.2 F
        ("inH2O", 248.84, 1.1e-3),  # water at 60 F
    ],
)
def test_columns_of_real_mercury_and_water_are_other_units(unit, measured_pa, share):
    """Printed in SP 811 B.8 as units of their own (found in text); ours are the conventional ones."""
    off = PRESSURE_PA[unit] / measured_pa - 1.0
    assert 0.5 * share < off < share


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("7 psi", "bar", 0.48263301052178526),  # computed from SP 811's factors
        ("10 inHg", "kPa", 33.86388640341),  # computed from SP 811's factors
        ("101325 Pa", "inHg", 29.92125557974848),  # USSA 1976 prints 29.92126 (found in text)
        ("1 atm", "psi", 14.695948775513449),  # computed from definitions
    ],
)
def test_conversions(text, unit, value):
    assert parse_pressure(text).value_pa / PRESSURE_PA[unit] == pytest.approx(value, rel=1e-9)


def test_volume_length_and_time():
    """Exact by definition (SP 811 B.8: cubic inch 1.638 706 E-05 m3, foot 3.048 E-01 m, found in text)."""
    assert VOLUME_M3["in3"] == pytest.approx(1.6387064e-5, rel=1e-12)
    assert VOLUME_M3["cm3"] == VOLUME_M3["mL"] == pytest.approx(1e-3 * VOLUME_M3["L"], rel=1e-15)
    assert LENGTH_M["ft"] == pytest.approx(12 * LENGTH_M["in"], rel=1e-15)
    assert TIME_S["h"] == 60 * TIME_S["min"] == 3600 * TIME_S["s"]


@pytest.mark.parametrize(
    ("text", "pa_m3_s"),
    [
        ("1 mbar L/s", 0.1),  # definition (ISO 3529, vacuum handbooks)
        ("1 cm3/s", 0.101325),  # 1 atm cm3/s, definition
        ("60 cm3/min", 0.101325),
        ("3.6 L/h", 0.101325),
        ("0.06 L/min", 0.101325),
    ],
)
def test_leak_rate_units(text, pa_m3_s):
    assert parse_flow(text) == pytest.approx(pa_m3_s, rel=1e-12)


def test_amounts_behind_a_standard_cubic_centimetre():
    """6.928 533e-7 mol/s at 20 degC (computed, CODATA 2018); at 0 degC 7.435 839e-7 (NIST usage, in text)."""
    per_min = FLOW_PA_M3_S["cm3/min"]
    gas_constant = 8.314462618
    assert per_min / (gas_constant * 293.15) == pytest.approx(6.928532818639e-7, rel=1e-9)
    assert per_min / (gas_constant * 273.15) == pytest.approx(7.435838900912e-7, rel=1e-9)


def test_the_reference_temperature_of_a_standard_cm3_is_20_degc():
    """The 7.3 % trap: one throughput of gas at 0 degC is more standard cm3 than at 20 degC (ideal gas)."""
    at_20 = standard_cm3_per_min(0.01)
    assert at_20 == pytest.approx(0.01 * 60e6 / ATMOSPHERE_PA, rel=1e-12)
    assert standard_cm3_per_min(0.01, 273.15) / at_20 == pytest.approx(1.0732198425773385, rel=1e-12)
