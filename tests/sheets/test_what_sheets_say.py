"""What stands around the readings: conditions, marks, temperatures, remarks; and forms that mean the same."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from leakdown.quantities import PRESSURE_PA
from leakdown.recording import Mark
from leakdown.sheets.file import read_bytes
from tests.sheets.reading import read_sheet

ROWS = "time (s),kPa\n0,30\n30,29\n60,28\n"


@pytest.mark.parametrize(
    "line",
    [
        "Barometer: 1006 mbar",
        "barometer = 100.6 kPa",
        "# Baro: 1,006 hPa",
        "Luftdruck;1006 mbar",
        "Atmospheric pressure: 1006 hPa",
        "Barometer,1006,mbar",
        "Barometer (mbar),1006",
        "Barometric pressure [mbar]: 1006",
        "cold day, barometer 1006 mbar",
        "QFE: 1006 hPa",
        "Presión atmosférica: 1006 mbar",
        "Station pressure: 1006 mbar",
    ],
)
def test_barometer_lines(line: str) -> None:
    separator = ";" if ";" in line else ","
    text = f"{line}\n{ROWS.replace(',', separator)}"
    assert read_sheet(text).conditions.barometer_pa == pytest.approx(100_600)


@pytest.mark.parametrize(
    ("line", "name", "value"),
    [
        ("Volume = 250 cc", "volume_m3", 250e-6),
        ("Volumen: 0,25 l", "volume_m3", 250e-6),
        ("# volume: 250 cm3", "volume_m3", 250e-6),
        ("Temp: 21 C", "temperature_k", 294.15),
        ("Room temperature: 68 °F", "temperature_k", 293.15),
        ("# gauge: 0-400 kPa dial, reads to 2 kPa", "resolution_pa", 2000.0),
        ("Gauge reads to 0.5 kPa", "resolution_pa", 500.0),
        ("resolution: 0.25 psi", "resolution_pa", 1723.689),
        ("Circuit;crankcase", "circuit", "crankcase"),
        ("# circuit: boot", "circuit", "intake"),
        ("Circuit: fuel line", "circuit", "fuel-line"),
        ("# includes: boot, gasket", "includes", ("boot", "gasket")),
        ("# note: second try", "note", "second try"),
        ("Direction: pressure", "direction", "pressure"),
        ("Started: 2024-05-01 14:05", "started", "2024-05-01 14:05"),
    ],
)
def test_other_lines(line: str, name: str, value: Any) -> None:
    separator = ";" if ";" in line else ","
    found = getattr(read_sheet(f"{line}\n{ROWS.replace(',', separator)}").conditions, name)
    assert found == (pytest.approx(value, rel=1e-6) if isinstance(value, float) else value)


def test_volume_uncertainty_and_unknown_keys() -> None:
    conditions = read_sheet("Volume: 200 cc\nVolume uncertainty: 10 %\nCustomer: J. Doe\n" + ROWS).conditions
    assert conditions.volume_u_m3 == pytest.approx(20e-6)
    assert ("Customer", "J. Doe") in conditions.extra


def test_a_line_that_cannot_be_used_is_remarked_on() -> None:
    recording = read_sheet("Volume: 250\n" + ROWS)
    assert recording.conditions.volume_m3 is None
    assert any("Volume" in remark and "250" in remark for remark in recording.remarks)


def test_a_barometer_without_a_unit_is_named_when_it_is_needed() -> None:
    with pytest.raises(Exception, match="1006"):
        read_sheet("Barometer: 1006\n" + ROWS, absolute=True)


def test_marks_come_from_every_row_that_has_a_time() -> None:
    recording = read_sheet("t (s),kPa,What was done\n0,30,valve shut\n10,,soap on the boot\n30,29,-\n60,28,let go\n")
    assert recording.marks == (Mark(0.0, "valve shut"), Mark(10.0, "soap on the boot"), Mark(60.0, "let go"))


@pytest.mark.parametrize(
    ("heading", "cells", "first_k"),
    [
        ("T (°C)", ["21", "", "21.5"], 294.15),
        ("temp F", ["68", "-", "70"], 293.15),
        ("temperature_degc", ["21", "", "22"], 294.15),
        ("Temp [K]", ["294.15", "", "295"], 294.15),
        ("Temp", ["21 C", "", "22 C"], 294.15),
    ],
)
def test_temperature_columns(heading: str, cells: list[str], first_k: float) -> None:
    rows = "".join(f"{30 * i},{30 - i},{cell}\n" for i, cell in enumerate(cells))
    kelvin = read_sheet(f"time (s),kPa,{heading}\n{rows}").temperature_k
    assert kelvin is not None
    assert kelvin[0] == pytest.approx(first_k)
    assert np.isnan(kelvin[1])


@pytest.mark.parametrize(("heading", "cell"), [("Temp", "21"), ("T (°C)", "2100")])
def test_a_temperature_that_cannot_be_used_is_remarked_on(heading: str, cell: str) -> None:
    recording = read_sheet(f"time (s),kPa,{heading}\n0,30,{cell}\n30,29,{cell}\n")
    assert recording.temperature_k is None
    assert any(heading in remark for remark in recording.remarks)


def test_a_dense_log_is_not_by_hand() -> None:
    rows = "".join(f"{i / 10},{40 - i / 100}\n" for i in range(100))
    assert not read_sheet("time (s),kPa\n" + rows).by_hand
    assert read_sheet("time (min),kPa\n" + rows).by_hand


@pytest.mark.parametrize(
    ("text", "options", "word"),
    [
        ("time (s),inHg\n0,20\n30,19\n", {}, "inHg"),
        ("time,kPa\n0,30\n60,29\n", {}, "seconds"),
        ("time (s),kPa\n0,30\n10,\n30,29\n", {}, "missed"),
        ("time (s),kPa\n0,30\n10,OL\n30,29\n", {}, "without a reading"),
        ("time (s),kPa\n0,30\n30,29\nSigned J. Doe\n", {}, "Signed"),
        ("time (s),psi\n0,30\n30,29\n", {"unit": "kPa"}, "told"),
        ("time (s),kPa\n0,30\n30,29\n30,29\n", {}, "repeated"),
        ("time (s),p\n0,30 psi\n30,2 bar\n", {}, "converted"),
        ("time,kPa\n23:59:00,30\n00:00:30,29\n", {}, "midnight"),
    ],
)
def test_what_was_understood_is_said(text: str, options: dict[str, Any], word: str) -> None:
    assert any(word in remark for remark in read_sheet(text, **options).remarks)


def test_options_win_over_the_sheet() -> None:
    text = "Barometer: 900 mbar\ntime (s),vacuum (psi)\n0,3\n30,2\n"
    recording = read_sheet(text, unit="kPa", direction="pressure", barometer_pa=1e5)
    assert recording.pressure_pa.tolist() == [3000, 2000]
    assert recording.conditions.direction == "pressure"
    assert recording.conditions.barometer_pa == 1e5
    assert recording.conditions.unit == "kPa"


_UNITS = st.sampled_from(["psi", "kPa", "mbar", "bar", "hPa", "mmHg", "inH2O", "kgf/cm2", "Pa", "Torr", "cmH2O"])
_HEADINGS = st.sampled_from(
    ["{u}", "p / {u}", "pressure ({u})", "Druck [{u}]", "gauge pressure {u}", "p in {u}", "pression {u}"]
)
_TIMES = st.sampled_from(
    [("time (s)", "{s}"), ("t / min", "{m}"), ("time", "{s} s"), ("Elapsed", "{c}"), ("Clock", "{k}")]
)


@settings(max_examples=150, deadline=None)
@given(
    _UNITS,
    _HEADINGS,
    _TIMES,
    st.sampled_from([",", ";", "\t", "|"]),
    st.booleans(),
    st.booleans(),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le"]),
    st.sampled_from(["\n", "\r\n", "\r"]),
)
def test_forms_that_mean_the_same(
    unit: str,
    heading: str,
    times: tuple[str, str],
    delimiter: str,
    swapped: bool,
    comma: bool,
    encoding: str,
    line_end: str,
) -> None:
    seconds, kpa = [0, 30, 60, 150], [40.0, 38.5, 37.25, 33.0]
    comma = comma and delimiter != ","
    rows = [[times[0], heading.format(u=unit)]]
    for s, p in zip(seconds, kpa, strict=True):
        clock = f"23:{58 + s // 60:02d}:{s % 60:02d}" if s < 120 else f"00:{s // 60 - 2:02d}:{s % 60:02d}"
        cell = times[1].format(s=s, m=s / 60, c=f"{s // 60}:{s % 60:02d}", k=clock)
        value = f"{p * 1e3 / PRESSURE_PA[unit]:.6f}"
        rows.append([cell, value] if not comma else [cell.replace(".", ","), value.replace(".", ",")])
    text = line_end.join(delimiter.join(row[::-1] if swapped else row) for row in rows) + line_end
    recording = read_bytes(text.encode(encoding), "sheet.csv")
    np.testing.assert_allclose(recording.time_s, seconds, atol=1e-9)
    np.testing.assert_allclose(recording.pressure_pa, np.array(kpa) * 1e3, atol=0.2)
    assert recording.conditions.unit == unit
