"""A second test below the first: told apart where the times start again, and picked by its number."""

from __future__ import annotations

from pathlib import Path

import pytest

from leakdown.errors import InputError
from leakdown.reading import read
from leakdown.sheets.file import read_bytes
from leakdown.sheets.native_write import write
from leakdown.sheets.options import ReadingOptions
from tests.sheets.reading import read_sheet

BETWEEN = ["", "\n", "pumped up again\n", "# retest after new boot\n", "second go, plug reseated\n", "{head}", "----\n"]
HEADS = ["sec,psi\n", "time (s),pressure (psi)\n", "t / s,p / psi\n", "# volume: 236 cm3\ns,psi\n"]
TIMES = [
    ["0", "30", "60", "90"],
    ["0:00", "0:30", "1:00", "1:30"],
    ["5", "35", "65", "95"],
    ["0 s", "30 s", "60 s", "90 s"],
]
ONE, TWO = [8.0, 7.5, 7.0, 6.5], [7.5, 7.5, 7.25]


def _text(head: str, times: list[str], between: str, tests: int = 2) -> str:
    rows = ["".join(f"{t},{p}\n" for t, p in zip(times, cells, strict=False)) for cells in (ONE, TWO, TWO)]
    return head + between.format(head=head.splitlines()[-1] + "\n").join(rows[:tests])


@pytest.mark.parametrize("head", HEADS)
@pytest.mark.parametrize("times", TIMES)
@pytest.mark.parametrize("between", BETWEEN)
def test_a_second_test_is_said_and_picked(head: str, times: list[str], between: str) -> None:
    text = _text(head, times, between)
    line = 1 + next(i for i, row in enumerate(text.splitlines()) if row == f"{times[0]},{TWO[0]}")
    with pytest.raises(InputError, match=f"second test starts at line {line}") as caught:
        read_sheet(text)
    assert "--test 1 or --test 2" in str(caught.value)
    for test, cells in ((1, ONE), (2, TWO)):
        found = read_sheet(text, test=test)
        assert found.pressure_pa / 6894.757 == pytest.approx(cells, rel=1e-6)
        assert [doubt.code for doubt in found.doubts if doubt.code != "not-used"] == ["second-test"]
    with pytest.raises(InputError, match="--test 3"):
        read_sheet(text, test=3)


def test_three_tests() -> None:
    text = _text(HEADS[0], TIMES[0], "", 3)
    with pytest.raises(InputError, match="of 3 in this file"):
        read_sheet(text)
    assert read_sheet(text, test=3).time_s.size == 3


def test_without_headings() -> None:
    rows = "0,6\n15,5\n30,4\n45,3\n0,5.75\n15,4.75\n30,3.75\n"
    with pytest.raises(InputError, match="line 6"):
        read_sheet("s,psi\n" + rows)
    told = ReadingOptions(columns=("time (s)", "psi"), test=2)
    assert read_bytes(rows.encode(), "sheet.csv", told).time_s.tolist() == [0, 15, 30]


@pytest.mark.parametrize("slip", ["45", "30", "13", "59"])
def test_a_time_that_slipped_starts_no_test(slip: str) -> None:
    with pytest.raises(InputError, match="time goes back"):
        read_sheet(f"s,kPa\n0,40\n30,39\n60,38\n{slip},37\n120,36\n")


def test_titled_tests_and_sheets_are_picked_by_number_too() -> None:
    text = "Pressure test\ns,kPa\n0,40\n30,39\n60,38\nVacuum test\ns,kPa\n0,50\n30,49\n"
    assert read_sheet(text, test=1).time_s.size == 3
    assert read_sheet(text, test=2).direction == "vacuum"
    with pytest.raises(InputError, match="2 tests"):
        read_sheet(text, test=3)


def test_marks_stay_with_their_test() -> None:
    text = "s,kPa,note\n0,40,\n30,39,soap\n60,38,\n0,40,\n30,39,boot pushed\n60,38,\n"
    assert [mark.text for mark in read_sheet(text, test=1).marks] == ["soap"]
    assert [mark.text for mark in read_sheet(text, test=2).marks] == ["boot pushed"]


def test_in_the_own_form_and_by_the_library(tmp_path: Path) -> None:
    path = tmp_path / "two.csv"
    path.write_text("time_s,pressure_kpa\n0,40\n1,39\n2,38\n0,41\n1,40\n", encoding="utf-8")
    with pytest.raises(InputError, match="second test starts at line 5"):
        read(path)
    one = read(path, test=2)
    assert one.pressure_pa.tolist() == [41e3, 40e3]
    write(one, tmp_path / "one.csv")
    assert read(tmp_path / "one.csv").time_s.size == 2


def test_one_test_and_a_number() -> None:
    assert read_sheet("s,kPa\n0,40\n30,39\n60,38\n", test=1).time_s.size == 3
    with pytest.raises(InputError, match="--test 2"):
        read_sheet("s,kPa\n0,40\n30,39\n60,38\n", test=2)
