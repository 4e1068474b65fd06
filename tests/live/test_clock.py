"""The gauge's clock against the computer's: jitter, clumps, wrong speed, torn numbers, restarts, wraps."""

from __future__ import annotations

import random
import re

import numpy as np
import pytest

import leakdown
from leakdown.live.capture.clock import GaugeClock, fitted
from leakdown.live.capture.recording_file import RecordingFile
from leakdown.live.capture.session import Remark, Row, Session
from leakdown.live.profiles.profile import AUTO, Conversion
from leakdown.live.virtual.vessel import Scenario, Vessel
from leakdown.quantities import PressureUnit

START_S = 100.0


def clock_of(pairs):
    clock = GaugeClock(START_S)
    times = [clock.time_s(START_S + arrival, device) for arrival, device in pairs]
    assert all(a < b for a, b in zip(times, times[1:], strict=False))
    return clock, times


def sent(seconds, every_s=0.1, speed=1.0, clump_s=0.0, jitter_s=0.005, zero=5.0, seed=1):
    """(true time, arrival, gauge's clock) of each line."""
    dice, out = random.Random(seed), []
    for i in range(round(seconds / every_s)):
        true_s = 0.05 + every_s * i
        arrival = true_s if not clump_s else clump_s * np.ceil(true_s / clump_s + 1e-9)
        out.append((true_s, arrival + dice.uniform(0.0, jitter_s), zero + speed * true_s))
    return sorted(out, key=lambda one: one[0])


def off_s(times, true_s):
    """How far times are from the truth, a shift of all apart."""
    late = np.array(times) - np.array(true_s)
    return float(np.max(np.abs(late - np.median(late))))


def test_the_gauges_clock_removes_jitter():
    clock, times = clock_of([(0.10, 5.0), (0.27, 5.1), (0.29, 5.2), (0.41, 5.3)])
    assert off_s(clock.settled().time_s, [0.1, 0.2, 0.3, 0.4]) < 1e-9
    assert times == pytest.approx([0.1, 0.2, 0.3, 0.4], abs=0.011) and clock.remarks == []


@pytest.mark.parametrize("wrap_s", [2**32 * 1e-3, 2**32 * 1e-6, 2**16 * 1e-3])
def test_a_counter_runs_over(wrap_s):
    clock, times = clock_of([(0.1, wrap_s - 0.15), (0.2, wrap_s - 0.05), (0.3, 0.05), (0.4, 0.15), (0.5, 0.25)])
    assert times == pytest.approx([0.1, 0.2, 0.3, 0.4, 0.5])
    assert clock.settled().time_s == pytest.approx(times) and clock.remarks == []


def test_a_restart_is_noticed_and_time_goes_on():
    pairs = [(0.1, 50.0), (0.2, 50.1), (2.2, 0.0), (2.3, 0.1), (2.4, 0.2), (2.5, 0.3)]
    clock, times = clock_of(pairs)
    assert times == pytest.approx([0.1, 0.2, 2.2, 2.3, 2.4, 2.5])
    assert clock.settled().time_s == pytest.approx(times)
    assert len(clock.remarks) == 1 and "restarted at 2.2 s" in clock.remarks[0]


@pytest.mark.parametrize(
    "torn",
    [
        {100: 3.0},
        {100: 3.0, 101: 3.02},
        {100: 5152.5},
        {100: 15.5},
        {60: 0.0, 120: 1.2},
        {100: 0.3, 101: 3.0, 102: 301.0},
    ],
)
def test_torn_numbers_are_no_restart(torn):
    lines = sent(30.0, zero=20.0)
    clock, times = clock_of([(arrival, torn.get(i, device)) for i, (_, arrival, device) in enumerate(lines)])
    true_s = [true for true, _, _ in lines]
    assert off_s(times, true_s) < 0.05 and off_s(clock.settled().time_s, true_s) < 0.05 and clock.remarks == []


@pytest.mark.parametrize("speed", [1.02, 0.98, 1.09, 0.91, 1.2])
@pytest.mark.parametrize(("every_s", "clump_s"), [(0.1, 0.0), (1.0, 0.0), (0.1, 1.0), (0.1, 2.0), (0.02, 1.5)])
def test_a_clock_that_runs_off_is_corrected_and_said(speed, every_s, clump_s):
    lines = sent(70.0, every_s, speed, clump_s)
    clock, _ = clock_of([(arrival, device) for _, arrival, device in lines])
    settled = clock.settled()
    assert off_s(settled.time_s, [true for true, _, _ in lines]) < 0.01 * 70.0
    said = re.search(r"runs ([\d.]+) % (fast|slow)", settled.said)
    assert said is not None and said.group(2) == ("fast" if speed > 1 else "slow")
    assert float(said.group(1)) == pytest.approx(abs(speed - 1) * 100, abs=1.0)
    assert len(clock.remarks) <= 1 and settled.told == bool(clock.remarks)
    assert settled.clock_s == pytest.approx([device for _, _, device in lines])


@pytest.mark.parametrize("speed", [1.0, 1.004, 0.996])
@pytest.mark.parametrize("clump_s", [0.0, 2.0])
def test_a_good_clock_is_left_alone(speed, clump_s):
    clock, _ = clock_of([(arrival, device) for _, arrival, device in sent(60.0, 0.1, speed, clump_s)])
    assert clock.remarks == [] and clock.settled().said == ""


def test_a_short_or_clumped_test_is_not_judged_too_early():
    """Clumps that begin and end anywhere: what they leave open is no fault of the clock."""
    for seed in range(20):
        dice = random.Random(seed)
        lines = sent(dice.uniform(6.0, 30.0), 0.1, 1.0, dice.uniform(0.5, 2.0), 0.02, seed=seed)
        clock, _ = clock_of([(arrival, device) for _, arrival, device in lines])
        assert clock.remarks == [] and clock.settled().said == ""


@pytest.mark.parametrize("speed", [0.001, 1000.0, 60.0])
def test_what_is_no_clock_is_dropped(speed):
    lines = sent(20.0, speed=speed)
    clock, times = clock_of([(arrival, device) for _, arrival, device in lines])
    assert len(clock.remarks) == 1 and f"{speed:.3g} times as fast" in clock.remarks[0]
    arrivals = [arrival for _, arrival, _ in lines]
    assert times[-1] == pytest.approx(arrivals[-1]) and clock.settled().time_s == pytest.approx(arrivals)


@pytest.mark.parametrize("clump_s", [1.0, 2.0])
def test_clumps_keep_the_gauges_own_times(clump_s):
    lines = sent(40.0, clump_s=clump_s)
    clock, times = clock_of([(arrival, device) for _, arrival, device in lines])
    true_s = [true for true, _, _ in lines]
    assert off_s(clock.settled().time_s, true_s) < 1e-6
    assert off_s(times[60:], true_s[60:]) < 0.02, "live too, once the first clumps are over"


@pytest.mark.parametrize(
    ("pairs", "expected"),
    [
        ([(1.5, 5.0), (1.6, 5.1), (1.7, 6.6), (1.8, 6.7)], [0.1, 0.2, 1.7, 1.8]),  # the first lines were late
        ([*((0.1 * i, 0.1 * i) for i in range(1, 61)), (7.0, 6.1)], [*(0.1 * i for i in range(1, 62))]),
        ([(0.1, 2**32 * 1e-3 - 0.1), (1.3, 0.1)], [0.1, 0.3]),  # run over while the line was late
    ],
)
def test_late_lines_are_no_fault_of_the_clock(pairs, expected):
    clock, _ = clock_of(pairs)
    assert clock.settled().time_s == pytest.approx(expected) and clock.remarks == []


def test_the_lower_line_against_least_squares_without_delays():
    """numpy's polyfit on the same points, delays left out."""
    x = np.sort(np.random.default_rng(3).uniform(0, 60, 900))
    slope, offset = np.polyfit(x, 1.03 * x + 2.0, 1)
    fit = fitted(x, 1.03 * x + 2.0 + np.random.default_rng(4).exponential(0.4, x.size))
    assert fit.rate == pytest.approx(slope, abs=2e-3) and fit.offset_s == pytest.approx(offset, abs=0.05)
    assert abs(fit.rate - slope) < 2.0 * fit.doubt


@pytest.mark.parametrize(
    ("unit_s", "every_s", "found"), [(1e-3, 0.1, True), (1e-6, 0.1, True), (1.0, 0.1, True), (1.7, 0.1, False)]
)
@pytest.mark.parametrize("clump_s", [0.0, 1.5])
def test_a_column_without_a_name_is_a_clock_if_it_runs_like_one(unit_s, every_s, found, clump_s):
    """Bare rows "123456,39.875": in clumps they keep the gauge's own times; a mere counter says nothing."""
    session, rows, remarks = Session(AUTO, Conversion(PressureUnit("kPa", 1e3)), 0.0), [], []
    lines = sent(40.0, every_s, 1.0, clump_s)
    for i, (true_s, arrival, device) in enumerate(lines):
        count = f"{device / unit_s:.0f}" if unit_s < 1.0 else f"{device:.2f}" if found else f"{i + 7}"
        said = session.feed(f"{count},{40 - 0.05 * true_s:.3f}\n".encode(), arrival)
        rows += [one for one in said if isinstance(one, Row)]
        remarks += [one.text for one in said if isinstance(one, Remark)]
    assert len(rows) == len(lines) and len(remarks) == 1, remarks
    settled = session._clock.settled()
    assert settled.said == "" and off_s(settled.time_s, [true for true, _, _ in lines]) < (
        0.01 if found else clump_s + 0.01
    )


def recorded(path, speed, clump_s, mark_s=None):
    vessel = Vessel(Scenario(zero_s=3, fill_s=5, hold_s=52, vent_s=0, hole_m=0.12e-3))
    session, rows, marked = Session(AUTO, Conversion(), 0.0), [], mark_s is None
    said = []
    for i, (true_s, arrival, device) in enumerate(sent(60.0, 0.2, speed, clump_s, zero=0.0)):
        if not marked and arrival > mark_s:
            rows.append(session.mark_row(mark_s, "boot moved"))
            marked = True
        line = (
            f"t={device * 1e3:.0f} ms P={vessel.gauge_pa(true_s) / 1e3:.3f} kPa\n" if i != 77 else "t=15400 ms P=OL\n"
        )
        said += session.feed(line.encode(), arrival)
        rows += [one for one in said if isinstance(one, Row)]
        said = [one for one in said if isinstance(one, Remark)]
    rows += [one for one in session.finish() if isinstance(one, Row)]
    file = RecordingFile(path, (("circuit", "crankcase"), ("volume", "250 cm3")))
    file.write(rows)
    file.close()
    settled = session.settled()
    if settled is not None:
        file.put_right(settled)
    return settled


@pytest.mark.parametrize(("speed", "clump_s"), [(1.09, 0.0), (1.0, 1.7), (0.95, 1.7)])
@pytest.mark.slow
def test_the_file_is_put_right_at_the_end(tmp_path, speed, clump_s):
    true = tmp_path / "true.csv"
    assert recorded(true, 1.0, 0.0) is None, "nothing to put right: the file stays as it was written"
    before = leakdown.analyse(leakdown.read(true), leakdown.Settings()).leak.rate_pa_s
    path = tmp_path / "test.csv"
    assert recorded(path, speed, clump_s, mark_s=41.0) is not None
    text = path.read_text(encoding="utf-8")
    assert "time_s,gauge_clock_s,pressure_kpa," in text and text.count("\n") == 300 + 1 + 3 + (speed != 1.0)
    recording = leakdown.read(path)
    after = leakdown.analyse(recording, leakdown.Settings()).leak.rate_pa_s
    assert after.value == pytest.approx(before.value, rel=0.02)
    assert [(m.text, round(m.time_s)) for m in recording.marks] == [("boot moved", pytest.approx(41, abs=2))]
    assert recording.time_s[-1] - recording.time_s[0] == pytest.approx(59.8, rel=0.02)
