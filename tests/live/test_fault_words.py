"""Words that a gauge sends for "no reading" as numbers: never a reading that spoils the recording."""

from __future__ import annotations

import random
from functools import cache

import pytest

import leakdown
from leakdown.live.capture.recording_file import RecordingFile
from leakdown.live.capture.session import Remark, Row, Session
from leakdown.live.profiles.profile import AUTO, Conversion
from leakdown.live.virtual.vessel import Scenario, Vessel

EVERY_S, COUNT = 0.2, 150
UNITS = {"kPa": 1e3, "hPa": 1e2, "Pa": 1.0}


@cache
def pressures_pa() -> list[float]:
    vessel, dice = Vessel(Scenario(hold_s=30, hole_m=0.12e-3)), random.Random(2)
    return [vessel.gauge_pa(i * EVERY_S) + dice.gauss(0, 20) for i in range(COUNT)]


def recorded(tmp_path, unit, word, places, barometer_pa=None):
    lines = [f"t={i * 200} ms P={p / UNITS[unit]:.3f} {unit}" for i, p in enumerate(pressures_pa())]
    for at in places:
        lines[at] = f"t={at * 200} ms P={word} {unit}"
    session = Session(AUTO, Conversion(barometer_pa=barometer_pa), 0.0)
    said = [s for i, line in enumerate(lines) for s in session.feed(line.encode() + b"\n", i * EVERY_S + 0.01)]
    said += session.finish()
    keys = [("circuit", "crankcase"), ("volume", "250 cm3")]
    keys += [("barometer", f"{barometer_pa / 1e3:g} kPa")] if barometer_pa else []
    file = RecordingFile(tmp_path / "test.csv", tuple(keys))
    rows = [s for s in said if isinstance(s, Row)]
    file.write(rows)
    file.close()
    return rows, [s.text for s in said if isinstance(s, Remark)]


PLACES = {"two": (90, 91), "last": (COUNT - 1,), "two last": (COUNT - 2, COUNT - 1), "first two": (0, 1)}


def _cannot_be_told(where: str, pressure_pa: float) -> bool:
    """Words in the bench's own range: at the very first from a gauge under pressure, at the very last from a vent."""
    return where == "first two" and abs(pressure_pa) < 2e6 or "last" in where and 0.0 <= pressure_pa < 20e3


@pytest.mark.parametrize("where", PLACES)
@pytest.mark.parametrize("word", ["-999.900", "6553.500", "99999.000"])
@pytest.mark.parametrize("unit", UNITS)
def test_a_recording_with_fault_words_reads_as_one_without(tmp_path, unit, word, where):
    rows, _ = recorded(tmp_path, unit, word, PLACES[where])
    assert len(rows) == COUNT and all(row.raw for row in rows), "every line kept"
    recording = leakdown.read(tmp_path / "test.csv")
    true_pa = pressures_pa()
    for time_s, pressure_pa in zip(recording.time_s, recording.pressure_pa, strict=True):
        near = true_pa[max(round(time_s / EVERY_S) - 2, 0) : round(time_s / EVERY_S) + 3]
        assert min(near) - 60 < pressure_pa < max(near) + 60 or _cannot_be_told(where, pressure_pa)
    assert len(recording.time_s) >= COUNT - 4


def test_what_no_bench_can_have_is_no_reading(tmp_path):
    rows, said = recorded(tmp_path, "kPa", "-108.000", range(60, 100))
    assert sum(row.pressure_pa is None for row in rows) == 40
    assert sum("no pressure that a bench can have" in text for text in said) == 1


@pytest.mark.parametrize(
    ("word", "barometer_pa", "kept"), [("-90.000", None, 40), ("-90.000", 80e3, 0), ("2100.000", None, 0)]
)
def test_the_bench_is_as_deep_as_its_air(tmp_path, word, barometer_pa, kept):
    rows, _ = recorded(tmp_path, "kPa", word, range(60, 100), barometer_pa)
    assert sum(row.pressure_pa is not None for row in rows[60:100]) == kept
    leakdown.read(tmp_path / "test.csv")


@pytest.mark.parametrize("word", ["-999.9", "9.9E37", "1e999", "85000"])
def test_a_fault_word_of_the_thermometer_or_clock_costs_no_reading(tmp_path, word):
    """In a table with a heading and in an object, in every fifth line."""
    for k, form in enumerate(
        ("{clock},{p:.3f},{warm}", '{{"t_s": {clock}, "pressure_kpa": {p:.3f}, "temp_c": {warm}}}')
    ):
        session, rows = Session(AUTO, Conversion(), 0.0), []
        lines = [] if k else ["time_s,pressure_kpa,temp_c"]
        for i, pressure_pa in enumerate(pressures_pa()):
            clock = word if i % 5 == 3 else f"{i * EVERY_S + 5:.2f}"
            lines.append(form.format(clock=clock, p=pressure_pa / 1e3, warm=word if i % 5 == 4 else "21.5"))
        for i, line in enumerate(lines):
            rows += [s for s in session.feed(line.encode() + b"\n", i * EVERY_S + 0.01) if isinstance(s, Row)]
        rows += [s for s in session.finish() if isinstance(s, Row)]
        file = RecordingFile(tmp_path / f"{k}.csv", (("circuit", "crankcase"), ("volume", "250 cm3")))
        file.write(rows)
        file.close()
        if (settled := session.settled()) is not None:
            file.put_right(settled)
        recording = leakdown.read(tmp_path / f"{k}.csv")
        assert len(recording.time_s) == COUNT
        assert recording.time_s[-1] - recording.time_s[0] == pytest.approx((COUNT - 1) * EVERY_S, rel=0.02)
