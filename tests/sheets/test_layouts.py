"""Two tests one below the other, and readings that stand in a row instead of a column."""

from __future__ import annotations

import io

import numpy as np
import pytest

from leakdown.errors import InputError
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions
from tests.sheets.reading import read_sheet, refused_with

PSI, INHG = 6.894757, 3.386389
BLOCKS = [
    ("Pressure test psi\n0 7\n30 6.5\n60 6\nVacuum test inHg\n0 15\n30 14\n60 13\n", PSI, INHG),
    (
        "Volume: 250 cc\nPressure test\nTime (s);psi\n0;7\n30;6.5\n60;6\n\n"
        "Vacuum test\nTime (s);Vacuum inHg\n0;15\n30;14\n60;13\n",
        PSI,
        INHG,
    ),
    ("Pressure test\nTime (s);kPa\n0;7\n30;6.5\n60;6\nVacuum test\n0;15\n30;14\n60;13\n", 1, 1),
    (
        "# pressure test\nclock;kPa\n14:00:00;7\n14:00:30;6.5\n14:01:00;6\n"
        "# vacuum test\n14:05:00;15\n14:05:30;14\n14:06:00;13\n",
        1,
        1,
    ),
    ("time (s),kPa\n0,7\n30,6.5\n60,6\ntime (s),vacuum kPa\n0,15\n30,14\n60,13\n", 1, 1),
]


@pytest.mark.parametrize(("text", "up", "down"), BLOCKS)
def test_two_blocks_need_a_direction_and_get_their_own(text: str, up: float, down: float) -> None:
    with pytest.raises(InputError, match="2 tests in one sheet") as caught:
        read_sheet(text)
    assert "--direction" in str(caught.value)
    over, under = read_sheet(text, direction="pressure"), read_sheet(text, direction="vacuum")
    np.testing.assert_allclose(over.pressure_pa / 1e3, np.array([7, 6.5, 6]) * up, rtol=1e-5)
    np.testing.assert_allclose(under.pressure_pa / 1e3, -np.array([15, 14, 13]) * down, rtol=1e-5)
    np.testing.assert_allclose(under.time_s, [0, 30, 60])
    assert any("left out" in remark for remark in under.remarks)


def test_the_head_belongs_to_both_blocks() -> None:
    for direction in ("pressure", "vacuum"):
        assert read_sheet(BLOCKS[1][0], direction=direction).conditions.volume_m3 == pytest.approx(250e-6)


def test_two_pressure_tests_are_refused_whatever_the_direction() -> None:
    text = "Pressure test 1\nt (s);kPa\n0;40\n30;39\nPressure test 2\nt (s);kPa\n0;30\n30;29\n"
    for options in ({}, {"direction": "pressure"}):
        with pytest.raises(InputError, match="2 tests"):
            read_sheet(text, **options)


@pytest.mark.parametrize(
    "line", ["vacuum cleaner on nearby", "t (s);kPa", "pressure gauge tapped", "needle at 30 kPa, hose moved"]
)
def test_a_remark_or_a_repeated_heading_opens_no_test(line: str) -> None:
    recording = read_sheet(f"t (s);kPa\n0;30\n30;29.5\n{line}\n60;28\n90;27.5\n")
    np.testing.assert_allclose(recording.time_s, [0, 30, 60, 90])


def test_two_sheets_of_a_workbook_by_direction() -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for name, heading, size in (("One", "kPa", 40), ("Two", "vacuum kPa", 50)):
        sheet = book.create_sheet(name)
        for row in (["time (s)", heading], [0, size], [30, size - 1], [60, size - 2]):
            sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    data = stream.getvalue()
    with pytest.raises(InputError, match="several sheets"):
        read_bytes(data, "b.xlsx")
    under = read_bytes(data, "b.xlsx", ReadingOptions(direction="vacuum"))
    np.testing.assert_allclose(under.pressure_pa, [-50e3, -49e3, -48e3])


@pytest.mark.parametrize(
    ("text", "seconds", "kpa"),
    [
        ("time (s),0,10,20\npressure (kPa),40,38.5,37\n", [0, 10, 20], [40, 38.5, 37]),
        ("time;s;0;10;20\npressure;kPa;40;38,5;37\nremarks;;;soap;\n", [0, 10, 20], [40, 38.5, 37]),
        ("t (min:s) 0:00 0:30 1:00\nkPa 40 38.5 37\n", [0, 30, 60], [40, 38.5, 37]),
        ("Volume: 250 cc\ntime (s): 0, 10, 20\np (kPa): 40, 38.5, 37\n", [0, 10, 20], [40, 38.5, 37]),
        ("kPa;40;38.5;37\ntime s;0;30;60\nend of test\n", [0, 30, 60], [40, 38.5, 37]),
        ("time (s);0;10;20\nvacuum (kPa);40;;37\n", [0, 20], [-40, -37]),
        (
            "time (s);0;10\npressure (kPa);40;38,5\ntime (s);20;30\npressure (kPa);37;36\n",
            [0, 10, 20, 30],
            [40, 38.5, 37, 36],
        ),
    ],
)
def test_readings_in_a_row(text: str, seconds: list[float], kpa: list[float]) -> None:
    recording = read_sheet(text)
    np.testing.assert_allclose(recording.time_s, seconds)
    np.testing.assert_allclose(recording.pressure_pa, np.array(kpa) * 1e3)


def test_remarks_in_a_row_stay_with_their_reading() -> None:
    recording = read_sheet("time (s);0;10;20\npressure (kPa);40;38;37\nremarks;;soap;\n")
    assert [(mark.time_s, mark.text) for mark in recording.marks] == [(10.0, "soap")]


def test_rows_in_a_workbook() -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in (["time (s)", 0, 10, 20], ["pressure (kPa)", 40, 38.5, 37]):
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    np.testing.assert_allclose(read_bytes(stream.getvalue(), "b.xlsx").pressure_pa, [40e3, 38.5e3, 37e3])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("time (s),0,10,20\npressure (kPa),40,38,37,36\n", ["4 values", "3 times", ":2"]),
        ("time (s),0,10\ntime (min),0,1\npressure (kPa),40,38\n", ["two lists of times", ":2"]),
        ("time (s),0,10,20\npressure (kPa),40,3O.5,37\n", ["no"]),
        ("time (s),0,10,20\nloss (kPa),0,2,4\n", ["no"]),
    ],
)
def test_rows_that_do_not_fit_are_refused(text: str, words: list[str]) -> None:
    refused_with(words, text)
