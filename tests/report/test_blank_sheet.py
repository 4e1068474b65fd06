"""Blank sheets: what stands on them, and the way of a filled-in one back through the readers."""

from __future__ import annotations

import csv
import html
import io
import re

import numpy as np
import pytest

from leakdown.circuits import CIRCUITS, procedure
from leakdown.errors import UsageError
from leakdown.judge.analyse import analyse
from leakdown.quantities import PRESSURE_PA
from leakdown.report.blank_sheet import blank_sheet, blank_sheet_page, csv_text
from leakdown.sheets.file import read_bytes

FILLED = {"Volume (": "236", "Volume uncertainty": "8", "Barometer": "97.4", "Temperature": "18",
          "Blocked": "boot, exhaust", "Gauge": "needle 3", "Note": "cold"}  # fmt: skip


def sheet(circuit="crankcase", direction="pressure", unit="kPa", every=10.0, hold=None, limit=None, target=None):
    return blank_sheet(circuit, direction, unit, every, hold, limit, target)


def page_of(blank) -> str:
    """The page as read, numbers no longer bound to their units."""
    return blank_sheet_page(blank).replace("\u00a0", " ")


def filled(blank, pressures, **cells) -> bytes:
    """The sheet as a person fills it in with a spreadsheet; None leaves a reading empty."""
    rows = list(csv.reader(io.StringIO(csv_text(blank))))
    values = dict(zip((f"{t:g}" for t in blank.times_s), pressures, strict=True))
    for row in rows:
        if row[0] in values and len(row) == 3:
            row[1] = "" if values[row[0]] is None else f"{values[row[0]]:.2f}"
        for key, value in cells.items() or FILLED.items():
            if row[0].startswith(key):
                row[1] = value
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue().encode()


@pytest.mark.parametrize("unit", ["kPa", "psi", "inHg", "mbar", "mmHg", "bar"])
@pytest.mark.parametrize("direction", ["pressure", "vacuum"])
@pytest.mark.parametrize("circuit", CIRCUITS)
def test_a_filled_sheet_is_read_back_without_any_option(circuit, direction, unit):
    blank = sheet(circuit, direction, unit)
    size = 12e3 * np.exp(-np.array(blank.times_s) / 200.0) / PRESSURE_PA[unit]
    recording = read_bytes(filled(blank, size), "sheet.csv")
    sign = -1.0 if direction == "vacuum" else 1.0
    assert recording.time_s.tolist() == list(blank.times_s)
    assert recording.pressure_pa / PRESSURE_PA[unit] == pytest.approx(sign * size, abs=0.00501)
    c = recording.conditions
    assert (c.circuit, recording.direction, c.unit, c.gauge) == (circuit, direction, unit, "needle 3")
    assert c.volume_m3 == pytest.approx(236e-6) and c.volume_u_m3 == pytest.approx(0.08 * 236e-6)
    assert c.barometer_pa == pytest.approx(97.4e3) and c.temperature_k == pytest.approx(291.15)
    assert c.blocked == ("boot", "exhaust") and recording.by_hand


def test_missed_readings_and_empty_conditions_do_no_harm():
    blank = sheet(direction="vacuum", unit="inHg")
    size = [13.5, None, 12.0, 11.5, None, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5, None, None]
    recording = read_bytes(filled(blank, size, Nothing="x"), "sheet.csv")
    assert recording.time_s.tolist() == [0, 20, 30, 50, 60, 70, 80, 90, 100]
    assert recording.conditions.volume_m3 is None and recording.conditions.barometer_pa is None
    found = analyse(recording)
    assert found.direction == "vacuum" and found.leak is not None and found.leak.detected


def test_an_empty_sheet_is_no_recording():
    with pytest.raises(Exception, match="reading"):
        read_bytes(csv_text(sheet()).encode(), "sheet.csv")


def test_target_caution_limit_and_times():
    page = page_of(sheet(direction="vacuum", unit="inHg"))
    # 50 kPa and 55 kPa: common practice, no source; 3.38639 kPa to the inHg of conventional mercury
    assert "15 inHg of vacuum" in page and "16 inHg here" in page
    assert "5.91 inHg in 20 s from 14.8 inHg (common practice)" in page  # 50 to 30 kPa
    assert re.findall(r"<td>(\d+) s", page) == [str(t) for t in range(0, 121, 10)]
    assert "maker" in page and "crankshaft" in page
    long = sheet(limit="7 kPa in 300 s", every=30.0)
    assert long.times_s[-1] == 300.0 and long.limit_from == "given"


def test_where_practice_has_no_limit_the_maker_s_figure_is_asked_for():
    blank = sheet("tank", "vacuum")
    assert blank.target_pa == 8e3 and blank.caution_pa == 10e3 and blank.limit == ""
    assert "the maker's figure" in page_of(blank)


@pytest.mark.parametrize(
    "wrong",
    [{"unit": "furlong"}, {"unit": "psia"}, {"every": 0.0}, {"every": 200.0, "hold": 100.0}, {"hold": 1e5},
     {"circuit": "tank", "target": 40e3}, {"circuit": "float-inlet", "target": 45e3}, {"limit": "much"}],
)  # fmt: skip
def test_what_cannot_be_a_sheet_is_refused(wrong):
    with pytest.raises(UsageError):
        sheet(**wrong)


def test_the_page_is_closed_to_the_network():
    page = page_of(sheet())
    assert "default-src 'none'" in page and "<script" not in page and "http" not in page.replace("http-equiv", "")


def test_the_steps_before_the_watch_stand_on_page_and_csv_in_the_same_words():
    blank = sheet()
    page, plain = html.unescape(page_of(blank)), csv_text(blank).replace(" - ", " ")
    for step in procedure().told("45 kPa"):
        assert step in page
        assert all(word.strip(".,:;") in plain for word in step.split())
    for box in ("Reading when the valve was shut", "Topped up to", "Waited before the watch", "watch started"):
        assert box in page
    assert page.count("<li>Pump and regulator off the circuit</li><li>Connection open") == 1
    assert "start the watch: that is 0 s" not in page and "until it stands" not in page


def test_a_part_that_passes_air_or_pops_is_not_topped_up():
    for circuit, direction in (("tank", "vacuum"), ("carburettor-inlet", "pressure")):
        page = page_of(sheet(circuit, direction))
        assert "that is 0 s" in page and "Topped up" not in page and "Pump and regulator off" in page
