"""What a mechanic is told while a test runs: what to do, the leak so far, pump strokes, the connection."""

from __future__ import annotations

import math
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from leakdown.errors import GaugeError
from leakdown.judge.analyse import analyse
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
from leakdown.judge.tightness import analysed_hold
from leakdown.live.bench import estimator as estimator_module
from leakdown.live.bench.connection import OPENED, ConnectionWatch
from leakdown.live.bench.estimator import Estimator, carried_on, leak_so_far
from leakdown.live.bench.prompts import Aim, Moment, PhaseNow, PhaseWatch, _Span, aim_of, before_pumping, lead
from leakdown.live.bench.running import LiveTest, RunningTest
from leakdown.live.bench.vain import VainWatch
from leakdown.live.bench.view import LiveState
from leakdown.live.capture.logger import Ended, LogPlan
from leakdown.live.capture.session import Remark, Row, Session
from leakdown.live.profiles.profile import AUTO, Conversion
from leakdown.live.virtual.vessel import Scenario, Vessel
from leakdown.recording import Conditions, Recording

AIR_PA = 101_325.0
LIMIT = parse_limit("7 kPa in 60 s from 40 kPa")
AIM = Aim(45e3, 50e3, 65.0, "kPa")
STEPS = Aim(45e3, 50e3, 65.0, "kPa", tops_up=True)


def played(scenario: Scenario, end_s: float) -> tuple[np.ndarray, np.ndarray]:
    vessel, times = Vessel(scenario), np.arange(0.0, end_s, 0.1)
    noise = np.random.default_rng(3).normal(0.0, 15.0, times.size)
    return times, np.array([vessel.gauge_pa(float(t)) for t in times]) + noise


@pytest.mark.parametrize(
    ("moment", "told"),
    [
        (Moment("waiting", 0.0, 0.0, False, False), "waiting for the gauge"),
        (Moment("zero", 1.0, 20.0, False, False), "open to air: reading the zero 1 s"),
        (Moment("zero", 4.0, 20.0, False, False), "pump to 45 kPa, or draw 50 kPa of vacuum, slowly"),
        (Moment("fill", 2.0, 20e3, False, False), "pump to 45 kPa, slowly; then shut the valve"),
        (Moment("fill", 2.0, -20e3, False, False), "draw 50 kPa of vacuum, slowly; then shut the valve"),
        (Moment("fill", 5.0, 44.5e3, False, False), "shut the valve"),
        (Moment("stabilise", 3.0, 44e3, False, False), "hands off: settling 3 s"),
        (Moment("hold", 23.0, 40e3, False, False), "hands off: holding 23 s of 65 s"),
        (Moment("hold", 66.0, 40e3, False, False), "crack a blank open: the reading must fall"),
        (Moment("hold", 30.0, 40e3, False, True), "crack a blank open: the reading must fall"),
        (Moment("zero", 1.0, 20.0, True, False), "reading the zero again 1 s"),
        (Moment("zero", 5.0, 20.0, True, False), "q ends the log"),
    ],
)
def test_one_line_for_each_moment(moment, told):
    text = lead(moment, AIM)
    assert told in text and len(text) <= 58, "it fits a terminal of 60 columns"


@pytest.mark.parametrize(
    ("moment", "told"),
    [
        (Moment("stabilise", 3.0, 41e3, False, False), "valve shut, hands off: 12 s, then top up"),
        (Moment("stabilise", 16.0, 38e3, False, False), "top up to 45 kPa, then shut the valve again"),
        (Moment("stabilise", 29.0, -38e3, False, False), "top up to 50 kPa, then shut the valve again"),
        (Moment("stabilise", 16.0, 44.8e3, False, False), "watch starts in 14 s"),
        (Moment("fill", 1.0, 40e3, False, False, True), "top up to 45 kPa"),
        (Moment("fill", 2.0, 44.9e3, False, False, True), "pump and regulator off the circuit"),
        (Moment("stabilise", 5.0, 43e3, False, False, True), "pump off the circuit: watch starts in 15 s"),
        (Moment("hold", 23.0, 40e3, False, False, True), "hands off: holding 23 s of 65 s"),
    ],
)
def test_it_is_topped_up_once_before_the_watch(moment, told):
    """Waits of 10 to 20 s, the watch 30 s after the last closing at the latest (common practice, no source)."""
    text = lead(moment, STEPS)
    assert told in text and len(text) <= 58, "it fits a terminal of 60 columns"


def phases_of(pressures_pa, tops_up=True) -> list[tuple[float, str]]:
    watch, found = PhaseWatch(tops_up), []
    for k, pressure_pa in enumerate(pressures_pa):
        phase = watch.feed(0.1 * k, float(pressure_pa)).phase
        if not found or found[-1][1] != phase:
            found.append((0.1 * k, phase))
    return found


def test_a_slow_top_up_is_seen_and_noise_is_none():
    """Up in 5 s, 15 s of settling by 6 kPa, topped up at 1 kPa/s: the watch starts 20 s later; else after 30 s."""
    t, noise = np.arange(0.0, 70.0, 0.1), np.random.default_rng(1).normal(0.0, 60.0, 700)
    up = np.minimum(9e3 * t, 45e3)
    fell = np.where(t < 5.0, up, 45e3 - 6e3 * (1.0 - np.exp(-(t - 5.0) / 2.0)))
    topped = np.where(t < 20.0, fell, np.minimum(39e3 + 1e3 * (t - 20.0), 45e3))
    begins = phases_of(topped + noise)
    assert [phase for _, phase in begins][-3:] == ["fill", "stabilise", "hold"]
    assert begins[-1][0] == pytest.approx(46.0, abs=2.0)
    alone = phases_of(fell + noise)
    assert [phase for _, phase in alone][-2:] == ["stabilise", "hold"] and alone[-1][0] == pytest.approx(35.0, abs=2.0)
    leaking = phases_of(np.where(t < 5.0, up, 45e3 * np.exp(-(t - 5.0) / 40.0)) + noise)
    assert leaking[-1][1] == "hold" and leaking[-1][0] == pytest.approx(35.0, abs=2.0), "standing or not"


def test_both_readings_are_told_once():
    state, told = LiveState("kPa", STEPS), []
    scenario = Scenario(zero_s=3.0, fill_s=3.0, hold_s=60.0, target_pa=45e3, top_up_s=15.0)
    for time_s, pressure_pa in zip(*played(scenario, 60.0), strict=True):
        state.feed(Row(float(time_s), float(pressure_pa)))
        told += [line for line in [state.step()] if line]
    assert [line.split(" at ")[0].split(" to ")[0] for line in told] == ["valve shut", "topped up", "the watch started"]
    shut, topped, watch = (float(line.split()[-2]) for line in told)
    assert shut == pytest.approx(45.0, abs=0.3) and topped == pytest.approx(45.0, abs=0.3) and 30.0 < watch < 45.0


def test_the_aim_comes_from_common_practice_and_the_limit():
    """45 kPa and 50 kPa for a crankcase, 15 kPa in a tank (common practice, no source)."""
    aim = aim_of(Conditions(), LIMIT)
    assert (aim.pressure_pa, aim.vacuum_pa, aim.hold_s, aim.tops_up) == (45e3, 50e3, 65.0, True)
    tank = aim_of(Conditions(circuit="tank"), None)
    assert (tank.pressure_pa, tank.vacuum_pa, tank.hold_s, tank.tops_up) == (15e3, 8e3, 60.0, False)
    one_way = aim_of(Conditions(direction="vacuum", unit="inHg"), None)
    assert one_way.pressure_pa is None and "draw 15 inHg of vacuum" in lead(
        Moment("zero", 9.0, 0.0, False, False), one_way
    )


def test_a_whole_test_is_led_through_in_order():
    scenario = Scenario(zero_s=5.0, fill_s=5.0, hold_s=30.0, vent_s=6.0, target_pa=45e3)
    state, told = LiveState("kPa", Aim(45e3, 50e3, 15.0, "kPa")), []
    for time_s, pressure_pa in zip(*played(scenario, 46.0), strict=True):
        state.feed(Row(float(time_s), float(pressure_pa)))
        told.append(state.view().said.lead)
    steps = ["reading the zero", "pump to", "shut the valve", "settling", "holding", "must fall", "zero again"]
    first = [next(i for i, text in enumerate(told) if step in text) for step in steps]
    assert first == sorted(first)
    assert "q ends" in told[-1]


def test_strokes_are_told_before_pumping():
    (line,) = before_pumping(AIM, 250e-6, AIR_PA)
    assert "6.1 kPa: 7.4 strokes to 45 kPa, 12 strokes to 50 kPa of vacuum" in line
    assert before_pumping(AIM, None, AIR_PA) == ()
    small = before_pumping(AIM, 5e-6, AIR_PA)
    assert len(small) == 2 and "adds 304 kPa in 5 cm3" in small[1]


def test_an_opened_blank_proves_the_connection_or_does_not():
    watch = ConnectionWatch(250e-6, AIR_PA, "kPa")
    watch.feed(10.0, 38e3)
    assert watch.mark(10.1, OPENED) == "" and watch.feed(10.2, 37e3) == ""
    assert watch.feed(10.6, 5e3).startswith("connection proven: 38.0 kPa fell to 5.00 kPa")
    assert watch.feed(10.7, 4e3) == "", "said once"
    watch.feed(20.0, 38e3)
    watch.mark(20.1, OPENED)
    assert watch.feed(23.0, 38e3) == ""
    assert "did not fall" in watch.feed(27.0, 38e3)
    watch.feed(30.0, 1.2e3)
    watch.mark(30.1, OPENED)
    assert watch.feed(30.2, 50.0) == "", "so little proves nothing"


@pytest.mark.parametrize(
    ("text", "answer"), [("7.4 strokes", "fits, connected"), ("2 pump strokes", "does not fit"), ("soap", "")]
)
def test_counted_strokes_are_reckoned(text, answer):
    """7.4 strokes of 15 cm3 to 45 kPa fill 250 cm3 by Boyle's law."""
    watch = ConnectionWatch(250e-6, AIR_PA, "kPa")
    watch.feed(10.0, 45e3)
    said = watch.mark(11.0, text)
    assert answer in said and bool(said) == bool(answer)


def test_the_leak_so_far_in_words():
    times, pressures = played(Scenario(hole_m=0.15e-3, zero_s=3.0, fill_s=4.0), 40.0)
    with_volume = Recording(times, pressures, conditions=Conditions(volume_m3=250e-6))
    text = leak_so_far(analyse(with_volume))
    assert text.startswith("leak 15") and text.endswith("at 35 kPa")
    without = Recording(times, pressures, conditions=Conditions(unit="psi"))
    assert leak_so_far(analyse(without)).startswith("loses ") and " psi/min (" in leak_so_far(analyse(without))
    assert leak_so_far(None) == ""


def test_the_estimate_comes_by_itself_and_decides():
    times, pressures = played(Scenario(hole_m=0.2e-3, zero_s=3.0, fill_s=4.0, target_pa=45e3), 20.0)
    phases = PhaseWatch()
    with Estimator(Conditions(volume_m3=250e-6), Settings(limit=LIMIT), decide=True) as estimator:
        for time_s, pressure_pa in zip(times, pressures, strict=True):
            now = phases.feed(float(time_s), float(pressure_pa))
            estimator.feed(float(time_s), float(pressure_pa), now)
        end = time.monotonic() + 10.0
        while not estimator.decided and time.monotonic() < end:
            time.sleep(0.05)
    assert estimator.decided == "fail"
    assert leak_so_far(estimator.latest).startswith("leak ")


def test_an_estimate_carried_on_is_that_of_a_full_analysis():
    times, pressures = played(Scenario(hole_m=0.1e-3, zero_s=3.0, fill_s=4.0, target_pa=45e3), 50.0)
    conditions = Conditions(volume_m3=250e-6, barometer_pa=AIR_PA)

    def until(end_s: float) -> Recording:
        return Recording(times[times < end_s], pressures[times < end_s], conditions=conditions)

    first = analysed_hold(until(20.0), Settings())
    state = (first.analysis, first.fit)
    again = carried_on(*state, until(45.0).time_s, until(45.0).pressure_pa)
    assert again is not None
    early, quick = state[0].leak.throughput_pa_m3_s, again[0].leak.throughput_pa_m3_s
    full = analyse(until(45.0)).leak.throughput_pa_m3_s
    assert quick.value == pytest.approx(full.value, rel=0.005)
    assert (quick.low, quick.high) == pytest.approx((full.low, full.high), rel=0.02)
    assert quick.high - quick.low < 0.7 * (early.high - early.low)
    few, enough = until(state[0].hold.closed_s + 1.4), until(state[0].hold.closed_s + 3.5)
    assert carried_on(*state, few.time_s, few.pressure_pa) is None
    assert carried_on(*state, enough.time_s, enough.pressure_pa) is not None


def test_an_estimate_comes_early_in_the_hold():
    times, pressures = played(Scenario(hole_m=0.2e-3, zero_s=3.0, fill_s=4.0, target_pa=45e3), 16.0)
    phases = PhaseWatch()
    with Estimator(Conditions(volume_m3=250e-6), Settings(), decide=False) as running_estimate:
        for time_s, pressure_pa in zip(times, pressures, strict=True):
            now = phases.feed(float(time_s), float(pressure_pa))
            running_estimate.feed(float(time_s), float(pressure_pa), now)
        end = time.monotonic() + 6.0
        while running_estimate.latest is None and time.monotonic() < end:
            time.sleep(0.05)
    assert running_estimate.latest is not None


@pytest.mark.slow
@pytest.mark.parametrize(("works", "most"), [(True, 2), (False, 7)])
def test_full_analyses_leave_the_computer_alone(monkeypatch, works, most):
    """1 % of a core where a fit can be carried on between them, 4 % where none can."""
    calls: list[float] = []

    def analysed(*_: object) -> SimpleNamespace:
        calls.append(time.monotonic())
        time.sleep(0.01)
        if not works:
            raise ArithmeticError
        return SimpleNamespace(analysis=None, fit="found")

    monkeypatch.setattr(estimator_module, "analysed_hold", analysed)
    monkeypatch.setattr(estimator_module, "can_be_carried_on", lambda *_: True)
    monkeypatch.setattr(estimator_module, "carried_on", lambda *_: None)
    with Estimator(Conditions(), Settings(), decide=False, every_s=0.01) as estimator:
        estimator.feed(0.0, 45e3, PhaseNow("fill", 0.0, 0.0))
        estimator.feed(5.0, 45e3, PhaseNow("hold", 1.0, 45e3))
        time.sleep(1.6)
    assert 1 <= len(calls) <= most


def test_a_fast_gauge_is_thinned_for_the_estimate():
    estimator, phases = Estimator(Conditions(), Settings(), decide=False), PhaseWatch()
    for i in range(3000):
        estimator.feed(1e-3 * i, 10.0, phases.feed(1e-3 * i, 10.0))
    assert len(estimator._readings) <= 67
    for i in range(40):
        estimator.feed(float(4 + i), 10.0, phases.feed(float(4 + i), 10.0))
    assert len(estimator._readings) == 11, "the last 10 s before filling"


class Recorder:
    """Stands in for a log: remembers what was asked of it."""

    def __init__(self, readings: int) -> None:
        self.start_s, self.marks, self.stopped = time.monotonic(), [], False
        self.plan = LogPlan("gauge", Path("a.csv"))
        self.session = Session(AUTO, Conversion(), 0.0)
        self.session.readings, self.session.unreadable = readings, 2

    def mark(self, text: str) -> None:
        self.marks.append(text)

    def stop(self) -> None:
        self.stopped = True


def running(log: Recorder, **ending) -> RunningTest:
    return RunningTest(log, LiveTest(Conditions(volume_m3=250e-6), Settings(limit=LIMIT), **ending), math.inf)


def test_keys_mark_note_undo_and_end():
    log = Recorder(5)
    test = running(log)
    assert test.turn("b") == ["marked: boot moved"] and test.turn("xyzk") == [] and test.state.typing is None
    assert test.turn("nxq\x7fz") == [] and test.state.typing == "xz"
    assert test.turn("\r") == ["marked: xz"] and test.state.typing is None
    assert test.turn("u") == ["undone: xz"] and not log.stopped
    test.turn("q")
    assert log.stopped and log.marks == ["boot moved", "xz", "undone: xz"]


def test_events_are_told_and_counted():
    test = running(Recorder(5))
    assert test.take(Remark("gauge is back")) == ["gauge is back"]
    assert test.take(Row(0.0, 45e3)) == []
    assert "fits, connected" in test.take(Row(0.1, None, mark="7.4 strokes"))[0]
    test.take(Ended(None))
    assert test.recorded().text().startswith("5 readings in 0.") and "2 other lines" in test.recorded().text()
    with pytest.raises(GaugeError, match="2 lines were no readings"):
        running(Recorder(0)).recorded()


def test_a_log_ends_when_its_time_is_over_or_the_verdict_is_certain():
    log = Recorder(5)
    assert running(log, duration_s=60.0).turn("") == [] and not log.stopped
    running(log, duration_s=0.0).turn("")
    assert log.stopped
    log = Recorder(5)
    test = running(log, until_decided=True)
    test._estimator.decided = "pass"
    assert test.turn("") == ["decided: pass"] and log.stopped and test.turn("") == []


def test_nothing_is_judged_above_the_caution_or_from_a_frozen_gauge():
    test = RunningTest(Recorder(5), LiveTest(Conditions(volume_m3=250e-6), Settings()), 1.0)
    noise = np.random.default_rng(1).normal(0.0, 20.0, 1000).round(-1)
    levels = [*np.zeros(50), *np.linspace(0.0, 45e3, 50), *np.full(300, 44e3)]
    for k, level in enumerate(levels):
        test.take(Row(0.1 * k, level + noise[k]))
    assert test._estimator._closed_s is not None, "a hold is judged"
    for k in range(400, 500):
        test.take(Row(0.1 * k, 44e3))
    assert test.state.state == "frozen"
    fed = len(test._estimator._readings)
    test.take(Row(50.0, 44e3))
    assert len(test._estimator._readings) == fed, "the estimate stops there"
    test.take(Row(50.1, 60e3))
    assert test.state.state == "over" and test._estimator._closed_s is None and test._estimator.latest is None


def test_pumping_in_vain_is_counted_while_it_goes_on():
    test = running(Recorder(5))
    for k in range(150):
        test.take(Row(0.1 * k, 8e3 * 0.5 ** ((k % 10) / 7.0) + 20.0 * (k % 3)))
    test.turn("")
    assert test.state.state == "vain" and "DOES NOT BUILD UP" in test.state.view().said.headline


def test_a_stretch_knows_its_mean_however_readings_come_and_go():
    dice, span, kept = np.random.default_rng(3), _Span(), []
    for k, pressure in enumerate(dice.normal(0.0, 3e4, 4000)):
        span.append((float(k), float(pressure)))
        kept.append(abs(float(pressure)))
        if dice.random() < 0.45:
            assert span.popleft()[0] == k + 1 - len(kept)
            kept.pop(0)
        if kept:
            assert span.mean_size_pa == pytest.approx(np.mean(kept), rel=1e-9)


def test_what_is_kept_of_a_quick_gauge_for_its_strokes_is_bounded():
    watch = VainWatch(Conditions(), Settings())
    for k in range(100_000):  # 100 s at 1000 readings a second
        watch.feed(0.001 * k, 10e3)
    assert 1000 < len(watch._readings) < 2000
