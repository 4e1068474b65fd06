"""What `convert` writes reads back to the same verdict, doubts and direction, whatever options it was given."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from leakdown.errors import LeakdownError
from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.reading import Told, told_recording
from leakdown.sheets.native_write import write

pytestmark = pytest.mark.slow


def decay(start: float, tau: float, count: int = 13, over: float = 0.0) -> list[tuple[float, float]]:
    return [(5.0 * k, over + start * math.exp(-5.0 * k / tau)) for k in range(count)]


def sheet(head: str, points: list[tuple[float, float]]) -> str:
    return head + "".join(f"{t:g},{p:.1f}\n" for t, p in points)


HOLD = "time (s),kPa\n"
SHEETS = {
    "tight": sheet(HOLD, decay(45, 2000)),
    "signed vacuum": sheet(HOLD, decay(-45, 2000)),
    "vacuum by title": sheet(f"Vacuum test\n{HOLD}", decay(45, 2000)),
    "tight vacuum": sheet(f"Vacuum test\n{HOLD}", decay(50, 9000)),
    "zero": sheet(f"zero: 0.5 kPa\n{HOLD}", decay(45, 1500, over=0.5)),
    "pumped again": sheet(HOLD, decay(45, 300, 7) + [(35 + t, p) for t, p in decay(45, 2000, 7)]),
    "two tests": sheet(HOLD, decay(45, 300, 7) + decay(45, 2000)),
    "absolute": sheet("time (s),kPa abs\n", decay(45, 2000, over=101.3)),
    "bare": sheet("", decay(45, 2000)),
    "far": sheet(HOLD, decay(450, 2000)),
}
OPTIONS = [
    Told(),
    Told(direction="vacuum"),
    Told(direction="pressure"),
    Told(unit="inHg"),
    Told(unit="kPa gauge"),
    Told(absolute=True, barometer="101.3 kPa"),
    Told(absolute=True, altitude="300 m", direction="vacuum"),
    Told(zero="0.3 kPa"),
    Told(test=2),
    Told(columns="time (s), pressure (kPa)"),
    Told(altitude="1500 m"),
]


def said(path: Path, told: Told) -> tuple[object, ...]:
    """The verdict with all that stands behind it, or the kind of refusal."""
    recording = told_recording(path, told)
    barring = [doubt for doubt in recording.doubts if doubt.bars_pass]
    try:
        verdict = analyse(recording, Settings()).verdict
    except LeakdownError as error:
        return type(error).__name__, recording.direction, barring
    assert verdict is not None
    return verdict.word, verdict.reason, recording.direction, barring


@pytest.mark.parametrize("name", SHEETS)
def test_a_converted_sheet_is_judged_as_the_sheet_itself(name, tmp_path):
    path, copy = tmp_path / "sheet.csv", tmp_path / "copy.csv"
    path.write_text(SHEETS[name])
    compared = 0
    for told in OPTIONS:
        try:
            write(told_recording(path, told), copy)
        except LeakdownError:
            continue
        compared += 1
        if told_recording(copy, Told()) != told_recording(path, told):  # equal ones are judged alike
            assert said(copy, Told()) == said(path, told), told
    assert compared >= 1
