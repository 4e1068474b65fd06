"""Hand records in one sentence: two readings with what was understood, or a refusal that says why."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest

from leakdown.recording import Recording
from leakdown.sheets.file import read_bytes
from leakdown.sheets.options import ReadingOptions
from tests.sheets.reading import refused_with

PSI, INHG = 6.894757, 3.386389


def _read(text: str, **options: Any) -> Recording:
    return read_bytes(text.encode(), "note.txt", ReadingOptions(**options))


@pytest.mark.parametrize(
    ("text", "seconds", "kpa"),
    [
        ("7 to 5 psi in 40 s", 40, (7 * PSI, 5 * PSI)),
        ("7 -> 5 psi, 40 s", 40, (7 * PSI, 5 * PSI)),
        ("7->5 psi in 40s\n", 40, (7 * PSI, 5 * PSI)),
        ("7 psi to 5 psi in 40 s.", 40, (7 * PSI, 5 * PSI)),
        ("dropped from 7 to 5 1/2 psi in 1 1/2 min", 90, (7 * PSI, 5.5 * PSI)),
        ("6-3/4 → 5¾ psi in 1:30", 90, (6.75 * PSI, 5.75 * PSI)),
        ("crankcase pressure: 7 to 5 psi in 40 s, cold", 40, (7 * PSI, 5 * PSI)),
        ("vac 15 inHg -> 12 inHg in 1 min", 60, (-15 * INHG, -12 * INHG)),
        ("vacuum 50 to 30 kPa in 20 s", 20, (-50, -30)),
        ("-40 to -35 kPa in 60 s", 60, (-40, -35)),
        ("0.5 bar auf 0,3 bar in 20 Sek", 20, (50, 30)),
        ("from 50 to 30 in 20 seconds (kPa)", 20, (50, 30)),
        ("0.5 bar to 300 mbar in 20 s", 20, (50, 30)),
        ("40 kPa, no movement in 60 s", 60, (40, 40)),
        ("held 40 kPa for 60 s", 60, (40, 40)),
        ("Result: 40 kPa held for 1 min", 60, (40, 40)),
        ("steady at 40 kPa for 2 min 30 s", 150, (40, 40)),
        ("no movement in 60 s at 7 psi", 60, (7 * PSI, 7 * PSI)),
    ],
)
def test_a_result_in_a_sentence(text: str, seconds: float, kpa: tuple[float, float]) -> None:
    recording = _read(text)
    np.testing.assert_allclose(recording.time_s, [0, seconds])
    np.testing.assert_allclose(recording.pressure_pa / 1e3, kpa, rtol=1e-6)
    assert recording.by_hand
    assert recording.remarks[0].startswith("understood from")


def test_the_head_around_a_sentence_counts() -> None:
    recording = _read("Volume: 250 cc\nBarometer: 990 mbar\nJob 4711, cold\n7 to 5 psi in 40 s\n")
    assert recording.conditions.volume_m3 == pytest.approx(250e-6)
    assert recording.conditions.barometer_pa == pytest.approx(99e3)
    assert any("Job 4711" in remark for remark in recording.remarks)


def test_a_sentence_in_a_workbook() -> None:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for row in (["Volume", "250 cc"], ["Result", "40 to 38 kPa in 60 s"]):
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    recording = read_bytes(stream.getvalue(), "b.xlsx")
    np.testing.assert_allclose(recording.pressure_pa, [40e3, 38e3])
    assert recording.conditions.volume_m3 == pytest.approx(250e-6)


def test_the_unit_as_told() -> None:
    assert _read("7 to 5 in 40 s", unit="psi").pressure_pa[0] == pytest.approx(7e3 * PSI, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("7 to 5 in 40 s", ["unit", ":1"]),
        ("no movement in 60 s", ["what pressure"]),
        ("dropped 2 psi in 40 s", ["lost", "7 to 5 psi"]),
        ("7 to 5 psi in 40 s?", ["cannot tell"]),
        ("did not hold 40 kPa for 60 s", ["cannot tell"]),
        ("should hold 40 kPa for 60 s", ["cannot tell"]),
        ("max 50 kPa to 30 kPa in 20 s", ["cannot tell"]),
        ("7 to 5 psi over 40 s then 3", ["cannot tell"]),
        ("7 to 5 psi in 40 s\n15 to 12 inHg in 60 s", ["2 results", ":2"]),
        ("P test: 40 to 38 kPa in 60 s. V test: 50 to 47 kPa in 60 s", ["cannot tell"]),
        ("50 to 30 kPa in 20 furlongs", ["furlongs"]),
        ("limit: 50 kPa to 30 kPa in 20 s", ["no"]),
        ("1,400 to 1,300 mbar in 60 s", ["1,400", "thousands"]),
        ("7 to 5 psia in 40 s", ["barometer"]),
    ],
)
def test_a_sentence_that_leaves_something_open_is_refused(text: str, words: list[str]) -> None:
    refused_with(words, text, "note.txt")


def test_a_sentence_beside_a_table_is_not_the_result() -> None:
    recording = _read("Before: 7 to 5 psi in 40 s\ntime (s);psi;remarks\n0;7;held 7 psi for 60 s\n30;6.5;\n60;6;\n")
    assert recording.time_s.tolist() == [0, 30, 60]
    assert any("not used" in remark and "7 to 5 psi" in remark for remark in recording.remarks)


def test_a_direction_picks_one_of_two_sentences() -> None:
    text = "Pressure: 7 to 5 psi in 40 s\nVacuum: 15 inHg to 12 inHg in 1 min\n"
    assert _read(text, direction="pressure").pressure_pa[0] == pytest.approx(7e3 * PSI, rel=1e-6)
    vacuum = _read(text, direction="vacuum")
    np.testing.assert_allclose(vacuum.pressure_pa / 1e3, [-15 * INHG, -12 * INHG], rtol=1e-6)
    assert vacuum.time_s.tolist() == [0, 60]
    assert "left out: 'Pressure" in vacuum.remarks[0]
