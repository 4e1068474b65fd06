"""Texts with units, both ways: what was written is what is understood, and what is shown reads back."""

from __future__ import annotations

import math

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from leakdown.errors import UsageError
from leakdown.quantities import (
    LENGTH_M,
    PRESSURE_PA,
    VOLUME_M3,
    clock_seconds,
    parse_flow,
    parse_length,
    parse_pressure,
    parse_pressures,
    parse_temperature,
    parse_time,
    parse_uncertainty,
    parse_volume,
    pressure_unit,
    show_pressure,
    significant,
)

numbers = st.floats(-1e6, 1e6, allow_nan=False).map(lambda x: round(x, 4))
positive = st.floats(1e-4, 1e6).map(lambda x: round(x, 4)).filter(lambda x: x > 0)


@settings(deadline=None)
@given(numbers, st.sampled_from(sorted(PRESSURE_PA)), st.sampled_from(["", " ", "  ", "\u00a0"]))
def test_pressures_are_what_was_written(value, unit, gap):
    found = parse_pressure(f"{value:f}{gap}{unit}")
    assert found.value_pa == pytest.approx(value * PRESSURE_PA[unit], rel=1e-12, abs=1e-9)
    assert (found.unit.name, found.unit.reference) == (unit, None)


@settings(deadline=None)
@given(numbers, st.sampled_from(sorted(PRESSURE_PA)))
def test_a_decimal_comma_is_a_decimal_point(value, unit):
    point = f"{value:.4f} {unit}"
    assert parse_pressure(point.replace(".", ",")) == parse_pressure(point)


@settings(deadline=None)
@given(st.sampled_from(["kPa", "psi", "mbar", "bar", "inHg"]), st.sampled_from(["abs", "a", "g", "gauge"]))
def test_gauge_and_absolute_are_kept_apart(unit, word):
    found = pressure_unit(f"{unit} ({word})")
    assert found.reference == ("absolute" if word.startswith("a") else "gauge")
    assert found.factor_pa == PRESSURE_PA[unit]


@settings(deadline=None)
@given(st.floats(-1e6, 1e6), st.sampled_from(sorted(PRESSURE_PA)))
def test_shown_pressures_read_back_to_three_figures(value_pa, unit):
    shown = show_pressure(value_pa, unit)
    assert parse_pressure(shown).value_pa == pytest.approx(value_pa, rel=5.001e-3, abs=1e-300)
    assert shown.endswith(unit)


@settings(deadline=None)
@given(st.floats(1e-9, 1e9), st.integers(1, 6))
def test_significant_figures(value, digits):
    assert float(significant(value, digits)) == pytest.approx(value, rel=0.5001 * 10.0 ** (1 - digits))
    assert significant(-value, digits) == f"-{significant(value, digits)}"


@settings(deadline=None)
@given(positive, st.sampled_from(sorted(VOLUME_M3)))
def test_volumes(value, unit):
    assert parse_volume(f"{value:f} {unit}") == pytest.approx(value * VOLUME_M3[unit], rel=1e-9)


@settings(deadline=None)
@given(numbers, st.sampled_from(sorted(LENGTH_M)))
def test_lengths(value, unit):
    assert parse_length(f"{value:f} {unit}") == pytest.approx(value * LENGTH_M[unit], rel=1e-9, abs=1e-12)


@settings(deadline=None)
@given(st.integers(0, 30), st.integers(0, 59), st.integers(0, 59))
def test_clock_forms(hours, minutes, seconds):
    expected = 3600 * hours + 60 * minutes + seconds
    assert clock_seconds(f"{hours}:{minutes:02d}:{seconds:02d}") == expected
    assert parse_time(f"{60 * hours + minutes}:{seconds:02d}") == expected
    assert parse_time(f"{60 * hours + minutes}'{seconds:02d}\"") == expected
    assert parse_time(f"{expected} s") == expected


@settings(deadline=None)
@given(st.floats(-60.0, 300.0).map(lambda x: round(x, 2)))
def test_temperatures_agree_in_every_scale(celsius):
    kelvin = parse_temperature(f"{celsius} degC") if -60 < celsius < 300 else celsius + 273.15
    assert kelvin == pytest.approx(celsius + 273.15, rel=1e-12)
    if -59 < celsius < 299:
        assert parse_temperature(f"{celsius * 1.8 + 32:.9f} °F") == pytest.approx(kelvin, abs=1e-6)
        assert parse_temperature(f"{kelvin:.6f} K") == pytest.approx(kelvin, abs=1e-5)


@pytest.mark.parametrize("unit", ["cm3", "%"])
def test_uncertainties_in_either_form(unit):
    text = "25 cm3" if unit == "cm3" else "10 %"
    assert parse_uncertainty(text, 250e-6) == pytest.approx(25e-6)


@pytest.mark.parametrize(
    ("parse", "text"),
    [
        (parse_pressure, "35"),
        (parse_pressure, "kPa"),
        (parse_pressure, "35 kp"),
        (parse_pressure, "35 mPa"),  # milli or a mistyped mega
        (parse_pressure, "nan kPa"),
        (parse_pressure, "1e999 kPa"),
        (parse_pressure, "1.234,5 kPa"),
        (parse_volume, "0 cm3"),
        (parse_volume, "-3 cm3"),
        (parse_volume, "250"),
        (parse_volume, "250 gal"),
        (parse_time, "-3 s"),
        (parse_time, "90"),
        (parse_temperature, "20"),
        (parse_temperature, "20 kelvins of sorts"),
        (parse_temperature, "1000 degC"),
        (parse_flow, "3 sccm"),  # 0 or 20 degC: no place to guess
        (parse_flow, "0 cm3/min"),
    ],
)
def test_what_cannot_be_known_is_refused_with_a_remedy(parse, text):
    with pytest.raises(UsageError) as refused:
        parse(text)
    assert refused.value.remedy


@settings(deadline=None)
@given(st.text(max_size=20))
def test_any_text_is_understood_or_refused(text):
    for parse in (parse_pressure, parse_volume, parse_time, parse_temperature, parse_length, parse_flow):
        try:
            found = parse(text)
        except UsageError:
            continue
        value = found.value_pa if parse is parse_pressure else found
        assert math.isfinite(value)


@pytest.mark.parametrize(
    "text", ["90 to 130 kPa", "90-130 kPa", "90 kPa to 130 kPa", "0.9..1.3 bar", "900 \u2013 1300 mbar"]
)
def test_a_range_of_pressures(text):
    assert parse_pressures(text, "range") == pytest.approx((90e3, 130e3))


@pytest.mark.parametrize(
    "text", ["95 kPa", "130 to 90 kPa", "1 to 2 to 3 kPa", "0 to 9 kPa", "9 to 13", "low to high", ""]
)
def test_what_is_no_range_of_pressures(text):
    with pytest.raises(UsageError, match="range"):
        parse_pressures(text, "range")
