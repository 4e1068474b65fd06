"""Which column is read: two tests in one sheet, factors, losses, thousands; and that the others are named."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from leakdown.errors import InputError
from tests.sheets.reading import read_sheet

PSI, INHG = 6894.757, 3386.389
IN_ROWS = "# P test\nTime;Psi;Vac inHg\n0;7;\n30;6.5;\n60;6;\n0;;15\n30;;14\n60;;13\n"
SIDE_BY_SIDE = "time s,pressure psi,vacuum inHg\n0,7,15\n30,6.5,14\n60,6,13\n"


def _refused(text: str, **options: Any) -> str:
    with pytest.raises(InputError) as caught:
        read_sheet(text, **options)
    return str(caught.value)


@pytest.mark.parametrize("text", [IN_ROWS, SIDE_BY_SIDE])
def test_two_tests_are_refused_without_a_direction(text: str) -> None:
    message = _refused(text)
    assert "--direction" in message
    assert "sheet.csv:" in message


@pytest.mark.parametrize("text", [IN_ROWS, SIDE_BY_SIDE])
def test_a_direction_picks_its_own_column(text: str) -> None:
    np.testing.assert_allclose(read_sheet(text, direction="pressure").pressure_pa / PSI, [7, 6.5, 6], rtol=1e-6)
    vacuum = read_sheet(text, direction="vacuum")
    np.testing.assert_allclose(vacuum.pressure_pa / INHG, [-15, -14, -13], rtol=1e-6)
    np.testing.assert_allclose(vacuum.time_s, [0, 30, 60])


def test_the_rows_of_the_other_test_are_no_missed_readings() -> None:
    remarks = read_sheet(IN_ROWS, direction="vacuum").remarks
    assert not any("missed" in remark for remark in remarks)
    assert any("other test" in remark and "Psi" in remark for remark in remarks)


def test_a_vacuum_column_without_a_unit_is_not_replaced_by_the_other() -> None:
    text = IN_ROWS.replace("Vac inHg", "Vac")
    assert "unit" in _refused(text, direction="vacuum")
    assert read_sheet(text, direction="vacuum", unit="inHg").pressure_pa[0] == pytest.approx(-15 * INHG, rel=1e-6)


@pytest.mark.parametrize(
    ("heading", "factor"),
    [
        ("kPa x 10", 1e4),
        ("kPa x10", 1e4),
        ("pressure (kPa x 10)", 1e4),
        ("x100 Pa", 100.0),
        ("pressure (x100 Pa)", 100.0),
        ("mbar*100", 1e4),
        ("Druck [Pa × 1000]", 1e3),
        ("10³ x Pa", 1e3),
        ("p / 10^-1 x bar", 1e4),
    ],
)
def test_a_factor_in_a_heading_multiplies(heading: str, factor: float) -> None:
    recording = read_sheet(f"time s;{heading}\n0;4\n30;3.8\n60;3.6\n")
    np.testing.assert_allclose(recording.pressure_pa, np.array([4, 3.8, 3.6]) * factor)
    assert any("multiplied" in remark for remark in recording.remarks)


@pytest.mark.parametrize(
    "heading", ["p x 10 (kPa)", "kPa/10", "1/10 bar", "pressure (0.1 bar)", "tenths of bar", "p (10 kPa)"]
)
def test_a_factor_that_cannot_be_told_is_refused(heading: str) -> None:
    message = _refused(f"time s;{heading}\n0;4\n30;3.8\n60;3.6\n")
    assert heading in message
    assert "factor" in message


@pytest.mark.parametrize("heading", ["Test 10 kPa", "kPa (0.5 kPa steps)", "gauge 2 kPa", "kPa (0-100 range)"])
def test_other_numbers_in_a_heading_are_no_factor(heading: str) -> None:
    assert read_sheet(f"time s;{heading}\n0;40\n30;38\n60;36\n").pressure_pa[0] == pytest.approx(40e3)


@pytest.mark.parametrize(
    "heading", ["loss kPa", "pressure drop psi", "Verlust (mbar)", "Druckabfall [mbar]", "perte kPa", "Δp kPa"]
)
@pytest.mark.parametrize("options", [{}, {"unit": "kPa"}])
def test_losses_are_never_pressures(heading: str, options: dict[str, Any]) -> None:
    message = _refused(f"time s;{heading}\n0;0\n30;2\n60;4\n", **options)
    assert heading in message
    assert "pressures themselves" in message


@pytest.mark.parametrize("heading", ["target", "setpoint kPa", "average kPa", "flow"])
def test_what_no_gauge_read_is_refused(heading: str) -> None:
    assert heading in _refused(f"time s;{heading}\n0;40\n30;38\n60;36\n", unit="kPa")


@pytest.mark.parametrize(
    ("heading", "rest"), [("kPa 2", "41"), ("humidity", "55"), ("drop kPa", "2"), ("gauge 2", "44")]
)
def test_a_column_that_is_not_used_is_named(heading: str, rest: str) -> None:
    if heading == "kPa 2":
        rest = "40"
    recording = read_sheet(f"time s,kPa,{heading}\n0,40,{rest}\n30,40,{rest}\n60,40,{rest}\n")
    assert any("not used" in remark and heading in remark for remark in recording.remarks)


@pytest.mark.parametrize("unit", ["mbar", "Pa", "mmHg"])
@pytest.mark.parametrize("mark", [".", ","])
def test_three_digits_behind_a_mark_are_refused_where_nothing_decides(unit: str, mark: str) -> None:
    message = _refused(f"time s;{unit}\n0;1{mark}200\n30;1{mark}190\n60;1{mark}181\n")
    assert f"1{mark}200" in message
    assert "thousands" in message


@pytest.mark.parametrize(
    ("text", "kpa"),
    [
        ("time s;mbar\n0;1.200\n30;1.100\n60;998\n", 120.0),
        ("time s;mbar\n0;1.200,5\n30;1.100,0\n60;1.000,5\n", 120.05),
        ("time s;mbar\n0,0;1.200\n30,5;1.190\n60,0;1.181\n", 120.0),
        ("time s;mbar\n0.0;1.200\n30.5;1.190\n60.0;1.181\n", 0.12),
        ("time s,mbar\n0,1.200\n30,1.190\n60,1.181\n", 0.12),
        ("time s;kPa\n0;40.125\n30;39.250\n60;38.500\n", 40.125),
    ],
)
def test_the_other_rows_and_columns_decide(text: str, kpa: float) -> None:
    assert read_sheet(text).pressure_pa[0] == pytest.approx(kpa * 1e3)


def test_a_column_of_zeros_is_no_other_test() -> None:
    recording = read_sheet("time s;pressure kPa;vacuum kPa\n0;40;0\n30;39;0\n60;38;0\n")
    assert recording.pressure_pa[0] == pytest.approx(40e3)
    assert any("vacuum kPa" in remark for remark in recording.remarks)


def test_headings_that_do_not_stand_over_their_columns_are_refused() -> None:
    assert "4 headings over 3 columns" in _refused("time p in kPa loss\n0 40 0\n30 39 1\n60 38 2\n")


def test_units_between_blanks_belong_to_their_headings() -> None:
    recording = read_sheet("time s pressure kPa\n0 40\n30 39,5\n60 38\n")
    assert recording.pressure_pa.tolist() == [40e3, 39.5e3, 38e3]
    assert read_sheet("time s psi\n0 7 1/2\n30 7 1/4\n").pressure_pa[0] == pytest.approx(7.5 * PSI, rel=1e-6)
