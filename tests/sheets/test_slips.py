"""Slips of the pen in a hand sheet: refused or named, with the line and the text."""

from __future__ import annotations

from pathlib import Path

import pytest

from leakdown.errors import InputError
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.sheets.file import read, read_bytes
from leakdown.sheets.native_write import write
from leakdown.sheets.options import ReadingOptions
from tests.sheets.reading import read_sheet


def _sheet(cells: list[float], notes: dict[int, str] | None = None, head: str = "") -> str:
    rows = [f"{10 * i};{cell};{(notes or {}).get(i, '')}\n" for i, cell in enumerate(cells)]
    return head + "time s;kPa;remarks\n" + "".join(rows)


@pytest.mark.parametrize(
    ("cells", "line", "text"),
    [
        ([400, 38, 360, 345], 3, "38"),
        ([6.9, 6.7, 6.6, 66, 6.4, 6.2], 5, "66"),
        ([40, 38, 83, 36], 4, "83"),
        ([40, 38, 0, 34.5, 33], 4, "0"),
        ([-40, -38, 36, -34], 4, "36"),
        ([-40, -38, 3.6, -34], 4, "3.6"),
        ([40, -38, 36, 34], 3, "-38"),
        ([40, -38, -36, -34], 2, "40"),
        ([40, 38, 36, -40, -38], 5, "-40"),
    ],
)
def test_a_plain_slip_is_refused(cells: list[float], line: int, text: str) -> None:
    with pytest.raises(InputError) as caught:
        read_sheet(_sheet(cells))
    assert f"sheet.csv:{line}:" in str(caught.value)
    assert repr(text) in str(caught.value)


@pytest.mark.parametrize(
    "cells",
    [
        [0, 20, 40, 38, 36, 0],
        [0, 0, 40, 39, 38, 37, 0],
        [40, 38, 36, 0.4],
        [7, 7, 7.25, 7, 6.75],
        [0.5, 0.5, 0.25, 0.5, 0.5],
        [40, 39.5, 38, 36, 33, 29],
        [40, 20, 10, 5, 2.5, 1.2],
        [-50, -40, -33, -28, -24, 0],
    ],
)
def test_good_sheets_pass_without_a_word(cells: list[float]) -> None:
    recording = read_sheet(_sheet(cells))
    assert recording.time_s.size == len(cells)
    assert recording.remarks == ()


@pytest.mark.parametrize(
    ("cells", "named"),
    [
        ([40, 39.5, 42.5, 38, 37], "line 4: '42.5'"),
        ([40, 39, 34, 38, 37], "line 4: '34'"),
        ([400, 38, 36, 35], "line 2: '400'"),
        ([40, 38, 36, 345], "line 5: '345'"),
        ([40, 38, 37.4, 3.7], "line 5: '3.7' is a tenth"),
        ([3.9, 38, 37.4, 37], "line 2: '3.9' is a tenth"),
        ([40, 38, 36, 40, 38, 36], "line 5: the pressure rises from '36' to '40'"),
    ],
)
def test_what_looks_odd_is_named(cells: list[float], named: str) -> None:
    recording = read_sheet(_sheet(cells))
    assert recording.time_s.size == len(cells)
    assert any(remark.startswith(named) for remark in recording.remarks)


def test_a_needle_that_pops_is_no_slip() -> None:
    cells = [150, 95, 150, 95, 150, 95]
    assert read_sheet(_sheet(cells)).time_s.size == 6
    assert read_sheet(_sheet(cells, head="Circuit: carburettor-inlet\n")).remarks == ()


@pytest.mark.parametrize("note", ["repumped to 40", "re-pumped", "pumped up again", "topped up", "nachgepumpt"])
@pytest.mark.parametrize("at", [2, 3])
def test_the_last_of_two_equal_holds_is_read(note: str, at: int) -> None:
    recording = read_sheet(_sheet([40, 38, 36, 40, 38, 36], {at: note, 4: "soap"}))
    assert recording.time_s.tolist() == [30, 40, 50]
    assert recording.pressure_pa.tolist() == [40e3, 38e3, 36e3]
    assert any(note in remark and "line 5" in remark for remark in recording.remarks)
    assert "soap" in [mark.text for mark in recording.marks]


def test_the_longest_hold_is_read() -> None:
    recording = read_sheet(_sheet([40, 38, 36, 35, 34, 40, 38], {5: "repumped"}))
    assert recording.time_s.tolist() == [0, 10, 20, 30, 40]
    three = read_sheet(_sheet([40, 38, 40, 38, 36, 35, 40, 38], {1: "repumped", 6: "repumped"}))
    assert three.time_s.tolist() == [20, 30, 40, 50]


def test_repumped_where_no_reading_rises_is_refused() -> None:
    with pytest.raises(InputError, match="topped up") as caught:
        read_sheet(_sheet([40, 38, 36, 35, 34], {2: "topped up"}))
    assert ":4" in str(caught.value)


@pytest.mark.parametrize("note", ["not repumped", "pump shut", "pump off?", "15 cc pump", "pumped to 40"])
def test_other_words_of_the_pump_cut_nothing(note: str) -> None:
    assert read_sheet(_sheet([40, 38, 36, 35, 34], {2: note})).time_s.size == 5


def test_a_first_filling_is_no_new_hold() -> None:
    assert read_sheet(_sheet([0, 40, 38, 36], {0: "pumped to 40"})).time_s.size == 4


def test_a_tight_hold_pumped_higher_is_cut() -> None:
    recording = read_sheet(_sheet([30, 30, 30, 40, 40, 40, 40], {3: "pumped up"}))
    assert recording.time_s.tolist() == [30, 40, 50, 60]


def test_pumping_up_in_steps_is_no_new_hold() -> None:
    assert read_sheet(_sheet([0, 20, 40, 38, 36], {1: "pumped again"})).time_s.size == 5


def test_a_dense_log_is_left_alone() -> None:
    values = [40 - i / 50 for i in range(200)]
    values[100] = 3.8
    text = "time (s),kPa\n" + "".join(f"{i / 10},{value}\n" for i, value in enumerate(values))
    assert read_sheet(text).time_s.size == 200


@pytest.mark.parametrize("first", [[8, 7.5, 7, 6.5], [8, 6, 4, 2.5], [0, 8, 7.25, 6.5, 0], [8, 7.75]])
@pytest.mark.parametrize("last", [[8, 7.5, 7, 6.5], [8.5, 8, 7.5], [7.75, 7.75, 7.75]])
@pytest.mark.parametrize("unit", [("psi", 1.0), ("mbar", 70.0)])
@pytest.mark.parametrize("head", ["# volume: 236 cm3\nsec;{}\n", "Zeit (s);Druck ({})\n"])
def test_an_unmarked_second_hold_bars_a_pass(
    first: list[float], last: list[float], unit: tuple[str, float], head: str
) -> None:
    name, factor = unit
    cells = [round(cell * factor, 4) for cell in first + last]
    text = head.format(name) + "".join(f"{30 * i};{cell:g}\n" for i, cell in enumerate(cells))
    recording = read_sheet(text)
    if len(first) == 2 and last[0] < first[0]:
        return  # back to where it was by a step or two: no jump
    doubts = [doubt for doubt in recording.doubts if doubt.code == "pumped-again"]
    assert [doubt.bars_pass for doubt in doubts] == ([True] if len(first) > 2 else [True] * len(doubts))
    if doubts:
        assert "--test" in doubts[0].text and "--hold" in doubts[0].text
        assert recording.holds[-1] == (30 * len(first), 30 * (len(cells) - 1))
        assert _judged(recording) != "pass"
        one = read_bytes(text.encode(), "sheet.csv", ReadingOptions(test=1))
        assert one.time_s.size == len(first)
        assert read_bytes(text.encode(), "sheet.csv", ReadingOptions(test=2)).doubts == ()


def _judged(recording: Recording) -> str:
    verdict = analyse(recording, Settings()).verdict
    return verdict.word if verdict else "undecided"


def test_the_last_hold_is_judged_and_a_hold_by_hand_settles_the_doubt() -> None:
    recording = read_sheet("t (s);psi\n0;8\n30;7.9\n60;7.8\n90;7.7\n120;8.3\n150;8.3\n180;8.3\n210;8.3\n")
    found = analyse(recording, Settings())
    assert (found.hold.start_s, found.hold.end_s) == (120, 210)
    assert found.verdict is not None and "pumped again" in found.verdict.reason
    chosen = analyse(recording, Settings(hold_s=(120, 210)))
    assert "pumped-again" not in {flag.code for flag in chosen.flags}
    across = analyse(recording, Settings(hold_s=(0, 210)))
    assert "pumped-again" in {flag.code for flag in across.flags}


def test_a_converted_sheet_keeps_its_doubt(tmp_path: Path) -> None:
    write(read_sheet(_sheet([40, 38, 36, 40, 38, 36])), tmp_path / "copy.csv")
    again = read(tmp_path / "copy.csv")
    assert [doubt.code for doubt in again.doubts] == ["pumped-again"]
    assert again.holds == ((0, 20), (30, 50))
    assert read(tmp_path / "copy.csv", ReadingOptions(test=2)).time_s.tolist() == [30, 40, 50]
    with pytest.raises(InputError, match="2 holds"):
        read(tmp_path / "copy.csv", ReadingOptions(test=3))


@pytest.mark.parametrize(
    ("cells", "asked"),
    [([8, 7.5, 8, 7.5], False), ([8, 6, 8, 6], True), ([40, 39, 38, 39, 38], False), ([40, 38, 36, 39, 37], True)],
)
def test_a_rise_of_one_step(cells: list[float], asked: bool) -> None:
    assert any(doubt.code == "pumped-again" for doubt in read_sheet(_sheet(cells)).doubts) == asked


@pytest.mark.parametrize("test", [1, 2])
def test_marked_holds_are_picked_by_number(test: int) -> None:
    text = _sheet([40, 38, 36, 40, 38, 36], {3: "repumped"})
    recording = read_bytes(text.encode(), "sheet.csv", ReadingOptions(test=test))
    assert recording.time_s.tolist() == [[0, 10, 20], [30, 40, 50]][test - 1]
