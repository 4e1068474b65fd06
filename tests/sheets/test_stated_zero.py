"""What the gauge shows open to air, as a sheet or a person says it: pressure = reading - offset."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import leakdown
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.report.blank_sheet import blank_sheet, csv_text
from leakdown.sheets.native_write import write
from leakdown.words.objects import analysis_object
from tests.sheets.reading import read_sheet

PSI, INHG = 6894.757, 3386.389
LINES = [
    "zero: {} psi",
    "# zero: {} psi",
    "Zero (psi): {}",
    "zero: {}",
    "open to air: {} psi",
    "Open to air, before: {} psi",
    "gauge zero = {} psi",
    "Nullpunkt: {} psi",
    "Ruhelage: {}",
    "à l'air libre: {} psi",
    "al aire: {} psi",
    "needle rests at {} psi",
    "# needle rests at {} psi",
    "The gauge shows {} psi open to air",
    "gauge reads {} psi with the hose off",
    "Zeiger ruht bei {} psi",
    "note: needle rests at {} psi",
    "zero {} psi",
]


@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize("level", ["0.3", "-0.5", "1"])
@pytest.mark.parametrize("rows", ["s;psi\n0;8\n30;7.5\n60;7\n", "Zeit (s);Druck (psi)\n0;8,0\n30;7,5\n60;7,0\n"])
def test_a_stated_zero_is_taken_off(line: str, level: str, rows: str) -> None:
    recording = read_sheet(line.format(level) + "\n" + rows)
    assert recording.conditions.zero_pa == pytest.approx(float(level) * PSI, rel=1e-6)
    assert recording.doubts == ()
    if level != "0.3" or "Zeit" in rows:
        return
    found = analyse(recording, Settings())
    assert found.hold.zero.source == "given"
    assert found.hold.zero.offset_pa == pytest.approx(float(level) * PSI, rel=1e-6)
    assert found.hold.start_pa == pytest.approx((8 - float(level)) * PSI, rel=1e-6)
    assert "not-used" not in {flag.code for flag in found.flags}


@pytest.mark.parametrize(
    "head",
    [
        "Open to air, before: 0.3 psi\nOpen to air, after: 0.1 psi\n",
        "# Open to air, before: 0.3 psi, after: 0.1 psi\n",
        "zero before: 0.3\nzero after: 0.1\n",
        "Null vorher: 0,3 psi\nNull nachher: 0,1 psi\n",
        '"Open to air, before";0.3 psi\n"Open to air, after";0.1 psi\n',
    ],
)
def test_before_and_after_give_the_drift(head: str) -> None:
    found = analyse(read_sheet(head + "s;psi\n0;8.3\n30;7.7\n60;7.1\n"), Settings())
    zero = json.loads(json.dumps(analysis_object(found)))["hold"]["zero"]
    assert zero["source"] == "given"
    assert zero["offset_kpa"] == pytest.approx(0.2 * PSI / 1e3, rel=1e-5)
    assert zero["drift_kpa"] == pytest.approx(-0.2 * PSI / 1e3, rel=1e-5)


@pytest.mark.parametrize("unit", ["inHg", "kPa"])
def test_under_vacuum_the_zero_is_on_the_same_dial(unit: str) -> None:
    found = read_sheet(f"Vacuum\nzero: 0.5 {unit}\ns;{unit}\n0;14\n30;13\n60;12\n")
    factor = INHG if unit == "inHg" else 1e3
    assert found.conditions.zero_pa == pytest.approx(-0.5 * factor, rel=1e-6)
    assert analyse(found, Settings()).hold.start_pa == pytest.approx(-13.5 * factor, rel=1e-6)
    assert read_sheet(f"Vacuum\ns;{unit}\n0;14\n30;13\n60;12\n", zero_pa=0.5 * factor).conditions.zero_pa == (
        pytest.approx(-0.5 * factor, rel=1e-6)
    )


def test_the_option_wins_and_a_copy_keeps_it(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("zero: 1 psi\ns;psi\n0;8\n30;7.5\n60;7\n", encoding="utf-8")
    one = leakdown.read(tmp_path / "a.csv", zero="0.3 psi")
    assert one.conditions.zero_pa == pytest.approx(0.3 * PSI, rel=1e-6)
    write(one, tmp_path / "b.csv")
    assert leakdown.read(tmp_path / "b.csv").conditions.zero_pa == pytest.approx(0.3 * PSI, rel=1e-6)
    assert leakdown.read(tmp_path / "b.csv", zero="0 psi").conditions.zero_pa == 0.0


@pytest.mark.parametrize(("level", "used"), [(3.9, True), (4.1, False), (8, False)])
def test_a_zero_that_can_be_none(level: float, used: bool) -> None:
    found = read_sheet(f"zero: {level} psi\ns;psi\n0;8\n30;7.5\n60;7\n")
    assert (found.conditions.zero_pa is not None) == used
    assert any(doubt.bars_pass for doubt in found.doubts) != used


@pytest.mark.parametrize("line", ["zero: 1013 hPa", "open to air: 101.3 kPa", "gauge reads 1013 hPa open to air"])
def test_a_zero_at_the_airs_pressure_says_absolute(line: str) -> None:
    found = read_sheet(line + "\ns;hPa\n0;1413\n30;1403\n60;1393\n")
    assert found.pressure_pa == pytest.approx([40e3, 39e3, 38e3])
    assert found.conditions.barometer_pa == pytest.approx(101.3e3)
    assert found.doubts == ()
    assert read_sheet("s;hPa\n0;1413\n30;1403\n60;1393\n", zero_pa=101.3e3).pressure_pa[0] == pytest.approx(40e3)


@pytest.mark.parametrize("direction", ["pressure", "vacuum"])
def test_the_boxes_of_the_printed_sheet(direction: str) -> None:
    text = csv_text(blank_sheet("crankcase", direction, "psi", 30.0, 120.0, None, None))  # type: ignore[arg-type]
    for times, level in (("before", "0.3"), ("after", "0.2")):
        text = text.replace(f"Open to air {times} (psi),,", f"Open to air {times} (psi),{level},")
    lines = text.splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith("time (s)")) + 1
    for i, level in enumerate(("8", "7.5", "7")):
        lines[first + i] = lines[first + i].replace(",,", f",{level},")
    found = read_sheet("\n".join(lines) + "\n").conditions
    sign = -1 if direction == "vacuum" else 1
    assert found.zero_pa == pytest.approx(sign * 0.3 * PSI, rel=1e-6)
    assert found.zero_after_pa == pytest.approx(sign * 0.2 * PSI, rel=1e-6)


def test_a_remark_beside_a_reading_counts() -> None:
    rows = "s;psi;remarks\n0;8;needle rests at 0.2 psi\n30;7.5;\n60;7;gauge reads 0.1 psi open to air\n"
    found = read_sheet(rows).conditions
    assert found.zero_pa == pytest.approx(0.2 * PSI, rel=1e-6)
    assert found.zero_after_pa == pytest.approx(0.1 * PSI, rel=1e-6)
