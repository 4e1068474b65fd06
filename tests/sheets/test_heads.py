"""Lines above a table: engine size, altitude, limit, barometer; and that what is not used is named."""

from __future__ import annotations

import pytest

from leakdown.errors import InputError
from leakdown.physics.air import standard_pressure_pa
from leakdown.sheets.preamble_values import altitude_m
from tests.sheets.reading import read_sheet

ROWS = "time (s);kPa\n0;30\n30;29\n60;28\n"
COMMA_ROWS = ROWS.replace(";", ",")


@pytest.mark.parametrize("rows", [ROWS, COMMA_ROWS, ROWS.replace(";", "\t")])
@pytest.mark.parametrize(
    "line",
    ["Umgebungsdruck: 965 mbar", "Luftdruck 965 hPa", "Barometerstand: 965 mbar", "cold day. Barometer 96.5 kPa"],
)
def test_barometer_in_other_words(line: str, rows: str) -> None:
    assert read_sheet(line + "\n" + rows).conditions.barometer_pa == pytest.approx(96_500)


@pytest.mark.parametrize("line", ["Vol. 0,25 l", "Vol. 250 cc", "Volume 250 cc", "test volume 250 ccm", "V = 250 cm3"])
@pytest.mark.parametrize("rows", [ROWS, COMMA_ROWS])
def test_volume_without_a_colon(line: str, rows: str) -> None:
    assert read_sheet(line + "\n" + rows).conditions.volume_m3 == pytest.approx(250e-6)


@pytest.mark.parametrize("line", ["Volume 236 cc +/- 10", "Volume: 236 cc ± 10 cc"])
def test_a_volume_with_its_doubt(line: str) -> None:
    conditions = read_sheet(line + "\n" + ROWS).conditions
    assert conditions.volume_m3 == pytest.approx(236e-6)
    assert conditions.volume_u_m3 == pytest.approx(10e-6)


@pytest.mark.parametrize(
    "line",
    [
        "Engine volume 50 cc",
        "Displacement 50 cc",
        "Displacement: 50 cc",
        "Hubraum 50 ccm",
        "Hubraum: 50 cm3",
        "swept volume: 50 cm3",
        "Motor 50 cm3",
        "Engine: 50cc two-stroke",
        "Motor 50 ccm;;Datum: 03.05.2026;",
    ],
)
def test_an_engine_size_is_never_the_volume_under_test(line: str) -> None:
    recording = read_sheet(line + "\n" + ROWS)
    assert recording.conditions.volume_m3 is None
    assert dict(recording.conditions.extra)["displacement"].startswith("50")
    assert any("displacement" in remark for remark in recording.remarks)


@pytest.mark.parametrize(
    "line", ["Pump volume 15 cc", "Hose volume: 10 cc", "Oil temperature 90 C", "tank volume 400 cc"]
)
def test_another_volume_or_temperature_is_not_taken(line: str) -> None:
    recording = read_sheet(line + "\n" + ROWS)
    assert recording.conditions.volume_m3 is None
    assert recording.conditions.temperature_k is None
    assert any("not used" in remark and line.split()[0] in remark for remark in recording.remarks)


@pytest.mark.parametrize(
    ("line", "metres"),
    [
        ("Altitude: 6500 ft", 1981.2),
        ("Altitude: 6,500 ft", 1981.2),
        ("Elevation 1500m", 1500.0),
        ("Altitude 2000 m", 2000.0),
        ("Höhe: 800 m ü. NN", 800.0),
        ("Meereshöhe 800 m", 800.0),
        ("# altitude: 1.5 km", 1500.0),
    ],
)
def test_an_altitude_becomes_the_barometer(line: str, metres: float) -> None:
    recording = read_sheet(line + "\n" + ROWS)
    assert recording.conditions.barometer_pa == pytest.approx(standard_pressure_pa(metres), rel=1e-6)
    assert any("altitude" in remark and "standard atmosphere" in remark for remark in recording.remarks)


@pytest.mark.parametrize("text", ["high", "12 mm", "9000 m", "-900 m", "1,2,3 m", "1.500 km"])
def test_no_altitude(text: str) -> None:
    assert altitude_m(text) is None


def test_a_barometer_wins_over_the_altitude() -> None:
    text = "Altitude: 6500 ft\nBarometer: 81 kPa\n" + ROWS
    recording = read_sheet(text)
    assert recording.conditions.barometer_pa == pytest.approx(81e3)
    assert any("altitude" in remark and "not used" in remark for remark in recording.remarks)
    assert read_sheet("Altitude: 6500 ft\n" + ROWS, barometer_pa=82e3).conditions.barometer_pa == 82e3


def test_absolute_readings_by_the_altitude() -> None:
    recording = read_sheet("Altitude: 1500 m\nt (s);kPa abs\n0;124,56\n30;122\n")
    assert recording.pressure_pa[0] == pytest.approx(40e3, abs=10)


def test_an_altitude_in_the_projects_own_form() -> None:
    recording = read_sheet("# altitude: 1500 m\ntime_s,pressure_kpa\n0,40\n10,39\n")
    assert recording.conditions.barometer_pa == pytest.approx(84_560, rel=1e-4)


@pytest.mark.parametrize("line", ["QNH: 1013 hPa", "barometer (sea level): 1013 hPa", "sea level barometer 1013 hPa"])
def test_a_sea_level_figure_is_no_barometer(line: str) -> None:
    recording = read_sheet(line + "\n" + ROWS)
    assert recording.conditions.barometer_pa is None
    assert any("sea-level" in remark for remark in recording.remarks)


@pytest.mark.parametrize("line", ["Limit: 20 kPa in 60 s", "Limit 20 kPa in 60 s", "Grenzwert: max. 20 kPa in 60 s"])
def test_a_limit_is_kept_and_said(line: str) -> None:
    recording = read_sheet(line + "\n" + ROWS)
    assert dict(recording.conditions.extra)["limit"] == "20 kPa in 60 s"
    assert any("limit" in remark for remark in recording.remarks)


@pytest.mark.parametrize(
    ("line", "named"),
    [
        ("Saw no. 4711, red", "Saw no. 4711"),
        ("Customer: J. Doe", "J. Doe"),
        ("Barometer 980 mbar, 20 C", "'20 C'"),
        ("Limit: 7 kPa/min", "7 kPa/min"),
        ("Volume of engine 50 cc", "50 cc"),
    ],
)
def test_what_is_not_used_is_named(line: str, named: str) -> None:
    remarks = read_sheet(line + "\n" + COMMA_ROWS).remarks
    assert len([remark for remark in remarks if remark.startswith("not used") and named in remark]) == 1


def test_many_lines_that_are_not_used_make_one_remark() -> None:
    remarks = read_sheet("".join(f"Line {i}: {i}\n" for i in range(20)) + ROWS).remarks
    assert len(remarks) == 1
    assert "and 14 more" in remarks[0]


def test_relative_not_absolute_is_gauge() -> None:
    assert read_sheet("Relative pressure, not absolute\n" + ROWS).pressure_pa[0] == pytest.approx(30e3)
    with pytest.raises(InputError, match="barometer"):
        read_sheet("Absolute readings\n" + ROWS)


def test_the_printed_sheets_empty_lines_are_not_named() -> None:
    head = "# Pump slowly to 45 kPa (common practice).\nVolume (cm3),,\nGauge,,\nNote,,\nStarted,,\n"
    assert read_sheet(head + COMMA_ROWS).remarks == ()
