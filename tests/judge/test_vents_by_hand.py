"""What vents, marks and limits read off a log, reckoned from small arrays by hand."""

# ruff: noqa: E501  (cases are as long as they are)
from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import Limit, Phase, Step, Zero
from leakdown.errors import InputError
from leakdown.judge import marks as marks_room
from leakdown.judge import vent as vent_room
from leakdown.judge.judged import FittedTest, Judged, fitted_test
from leakdown.judge.loss import _between, _given_back_pa, _level, _read_off, _reading_sd_pa, plainly_over
from leakdown.judge.marks import _hold_within, effects, touched, with_marks
from leakdown.judge.tightness import _near, _split, _time_constant_s
from leakdown.judge.vent import (
    VentWay,
    _air_in,
    _flow_words,
    _inflow_verdict,
    _needed_words,
    judged_filling,
    volume_flags,
)
from leakdown.judge.vent_decay import VentDecay, _before_quickening, _let_out, speed_at, vent_decay
from leakdown.judge.vent_decay import _fall_per_s as vent_fall
from leakdown.recording import Mark
from leakdown.uncertainty import Interval
from tests.judge.test_readings_by_hand import CM3_MIN, Z, _recording
from tests.judge.test_verdict_branches import _analysis

# ---------------------------------------------------------------- vents


def _decay(
    t: Any, size: Any, noise: float = 1.0, rounding: float = 1.0, clock: float = 0.0, fill: float = 0.0
) -> VentDecay:
    t, size = np.asarray(t, float), np.asarray(size, float)
    return VentDecay(t, size, noise, rounding, clock, float(t[0]), float(t[-1]), fill)


def _parts(
    p: Any, t: Any = None, zero: float = 0.0, phases: Any = (), held: tuple[float, float] | None = None, **said: Any
) -> Any:
    recording = _recording(p, t, **said)
    source = "measured" if zero else "assumed"
    closed, end = held or (0.0, float(recording.time_s[-1]))
    window = SimpleNamespace(zero=Zero(zero, 0.0, source), closed_s=closed, end_s=end, phases=phases)
    return SimpleNamespace(recording=recording, window=window, resolution=SimpleNamespace(value=100.0))


def test_what_the_vent_alone_did() -> None:
    """From the highest reading on, zero off; on a sheet a second's doubt of the watch; rounding 100/sqrt(12)."""
    seen = vent_decay(_parts([0.0, 4e3, 8e3, 8e3, 6e3, 5e3, 4e3], by_hand=True))
    assert seen.time_s.tolist() == [0.0, 1.0, 2.0, 3.0, 4.0] and seen.size_pa.tolist() == [8e3, 8e3, 6e3, 5e3, 4e3]
    assert (seen.noise_pa, seen.clock_s, seen.start_s, seen.end_s, seen.fill_s) == (0.0, 1.0, 2.0, 6.0, 2.0)
    assert seen.rounding_pa == pytest.approx(100.0 / math.sqrt(12.0)) and seen.shut == 1 and seen.end_pa == 4e3
    vacuum = vent_decay(_parts([-8e3, -6e3, -5e3], direction="vacuum", zero=200.0))
    assert vacuum.size_pa.tolist() == [8.2e3, 6.2e3, 5.2e3] and vacuum.clock_s == 0.0 == vacuum.fill_s
    near = vent_decay(_parts([0.0, 7.95e3, 8e3, 6e3, 5e3]))
    assert near.start_s == 1.0  # within twice the rounding of the highest
    for few in ([8e3], [-1.0, -2.0], [1e3, 8e3]):
        with pytest.raises(InputError, match="not two readings after the tank was filled"):
            vent_decay(_parts(few))
    assert vent_decay(SimpleNamespace(**(vars(_parts([8e3, 6e3])) | {"window": None}))).start_pa == 8e3  # type: ignore[arg-type]


def test_until_somebody_lets_it_out() -> None:
    recording = _recording(np.zeros(30))
    vent = (Phase("vent", 20.0, 29.0),)

    def stop(phases: Any, closed: float = 0.0, end: float = 20.0) -> int:
        return _let_out(recording, SimpleNamespace(closed_s=closed, end_s=end, phases=phases))  # type: ignore[arg-type]

    assert (
        stop(vent) == 21
        and stop(()) == 30
        and stop((Phase("hold", 20.0, 29.0),)) == 30
        and _let_out(recording, None) == 30
    )
    assert stop(vent, closed=11.0) == 30 and stop(vent, closed=10.0) == 21 and stop((Phase("vent", 19.0, 29.0),)) == 30
    t = np.arange(20.0)
    slow = 8e3 - 100.0 * t
    for far, stops in ((1.5e3, 20), (1.7e3, 13), (4e3, 13)):  # a fifth of the start
        let_out = slow - far * (t > 12.0)
        assert _before_quickening(t, let_out, 10.0) == stops
    early = slow - 4e3 * (t > 8.0)
    assert _before_quickening(t, early, 10.0) == 20  # not held for ten seconds before
    noisy = slow - 1.7e3 * (t > 12.0)
    assert _before_quickening(t, noisy, 300.0) == 20
    bumpy = 8e3 - np.cumsum(np.where(t % 4 == 3, 700.0, 0.0))
    assert _before_quickening(t, bumpy - 1.7e3 * (t > 12.0), 10.0) in (13, 20)


def test_falls_and_their_doubts() -> None:
    """White: u/sqrt(sum of squares); rounding alike sqrt(2) r/span; the clock's by the fall."""
    t = np.arange(11.0)
    fall, u = vent_fall(_decay(t, 8e3 - 50.0 * t, 3.0, 4.0, 0.5), slice(0, 11))
    assert fall == pytest.approx(50.0)
    assert u == pytest.approx(math.sqrt((3.0**2 / 110.0) + 2.0 * 16.0 / 100.0 + (50.0 * 0.5 / 10.0) ** 2))
    _, scattered = vent_fall(_decay(t, 8e3 - 50.0 * t, 7.0, 4.0), slice(0, 11))
    assert scattered == pytest.approx(math.hypot(7.0, 4.0) / math.sqrt(110.0))
    _, part = vent_fall(_decay(t, 8e3 - 50.0 * t, 3.0, 4.0), slice(2, 7))
    assert part == pytest.approx(math.sqrt(9.0 / 10.0 + 2.0 * 16.0 / 16.0))


def test_speeds_at_a_level() -> None:
    """Never down to it: no more than the last stretch says; a vent of 250 Pa/s is inside, and walls give 30 %."""
    t = np.arange(60.0)
    above = speed_at(5e3, _decay(t, 8e3 - 10.0 * t), 101_325.0)
    assert above is not None and above.value is None and above.low == 0.0
    gives = 1.0 + (101_325.0 - 5e3) * 3e-6
    assert 10.0 * gives < above.high < 10.5 * gives
    down = speed_at(5e3, _decay(t, 8e3 * np.exp(-t / 20.0)), 101_325.0)
    assert (
        down is not None
        and down.value is not None
        and down.low < 250.0 < down.high
        and down.value == pytest.approx(250.0, rel=0.06)
    )
    for level in (8e3, 7.999e3):  # not surely above it
        assert speed_at(level, _decay(t, 8e3 - 10.0 * t), 101_325.0) is None
    assert speed_at(7.99e3, _decay(t, 8e3 - 10.0 * t), 101_325.0) is not None
    sudden = speed_at(5e3, _decay([0.0, 1.0], [8e3, 0.0]), 101_325.0)
    assert sudden is not None and sudden.high == math.inf and sudden.value is None


def test_words_of_vents() -> None:
    assert _flow_words(Interval(30 * CM3_MIN, 20 * CM3_MIN, 40 * CM3_MIN)) == "30 (20 to 40) cm3/min"
    assert (
        _flow_words(Interval(None, 20 * CM3_MIN, math.inf)) == "at least 20 cm3/min"
        and _flow_words(Interval(None, 0.0, 40 * CM3_MIN)) == "at most 40 cm3/min"
    )
    assert _flow_words(Interval(None, 20 * CM3_MIN, 40 * CM3_MIN)) == "20 to 40 cm3/min"
    assert _needed_words(33 * CM3_MIN, "file") == "33 cm3/min (the file's own)" and "--air-needed" in _needed_words(
        33 * CM3_MIN, "practice"
    )
    assert [f.code for f in volume_flags(_recording([1.0, 2.0]))] == ["tank-volume-assumed"]
    assert [f.code for f in volume_flags(_recording([1.0, 2.0], volume_m3=1e-4))] == ["volume-uncertainty-assumed"]
    assert volume_flags(_recording([1.0, 2.0], volume_m3=1e-4, volume_u_m3=1e-6)) == ()
    flow = Interval(30 * CM3_MIN, 20 * CM3_MIN, 40 * CM3_MIN)
    rest = _air_in(VentWay(flow, 2e3, 2e3, 8e3, 0.0, 60.0))
    assert rest.sentence == "Left alone it comes to rest at 2 kPa of vacuum." and rest.figures[
        0
    ].interval.value == pytest.approx(30.0)
    assert (
        _air_in(VentWay(None, 6e3, 6e3, 8e3, 0.0, 60.0)).sentence == ""
        and _air_in(VentWay(None, 6e3, 6e3, 8e3, 0.0, 60.0)).figures == ()
    )
    assert (
        _air_in(VentWay(flow, None, -10.0, 8e3, 0.0, 60.0)).sentence
        == "It was still coming back at the end, at 0 kPa of vacuum."
    )
    assert rest.title == "Air in, at 5 kPa of vacuum" and rest.instead


def test_the_verdict_on_air_that_gets_in() -> None:
    tank = _recording([-8e3, -4e3], direction="vacuum", circuit="tank", barometer_pa=1e5)

    def of(flow: Interval | None) -> Any:
        return _inflow_verdict(tank, VentWay(flow, None, 1e3, 8e3, 0.0, 60.0), 33 * CM3_MIN, "practice")

    good = of(Interval(50 * CM3_MIN, 40 * CM3_MIN, 60 * CM3_MIN))
    assert (good.word, good.basis, good.remedy) == ("pass", "reading", "") and good.limit.kind == "inflow"
    assert good.measured.value == pytest.approx(50 * CM3_MIN * 1e5) and good.limit.rate_pa_m3_s == pytest.approx(
        33 * CM3_MIN * 101325.0
    )
    assert good.limit.text == "33 cm3/min of air in at 5 kPa of vacuum"
    for open_ in (None, Interval(None, 40 * CM3_MIN, math.inf)):
        assert of(open_).measured is None and of(open_).basis == "none"
    assert (
        of(Interval(33 * CM3_MIN, 20 * CM3_MIN, 40 * CM3_MIN)).remedy.startswith("Repeat: draw slowly")
        and of(None).word == "undecided"
    )


@pytest.mark.parametrize(
    ("held", "kind", "source", "word", "said"),
    [
        (6e3, "unknown", "practice", "pass", "Outward it relieves while it was pumped, at 6 kPa, as some vents do."),
        (5e3, "unknown", "practice", "pass", "Outward it relieves"),
        (4e3, "breather", "practice", "pass", "It breathes outward while it was pumped, at 4 kPa"),
        (4e3, "valve", "practice", "fail", "So it is."),
        (4e3, "unknown", "practice", "fail", "So it is. Felt and labyrinth vents"),
        (6e3, "unknown", "given", "fail", "So it is."),
    ],
)
def test_a_tank_that_would_not_build_up(held: float, kind: Any, source: Any, word: str, said: str) -> None:
    limit = Limit("2 kPa in 60 s", "drop", source, drop_pa=2e3, time_s=60.0)
    found = judged_filling(Judged(_analysis("fail", circuit="tank", limit=limit), None), held, kind)
    assert (
        found.analysis.verdict.word == word
        and found.analysis.verdict.reason.startswith(said[:20])
        and said in found.analysis.verdict.reason
    )


# ---------------------------------------------------------------- a loss as it was read


def _window_fit(p: Any, t: Any = None, noise: float = 10.0, step: float = 0.0, inward: bool = False) -> Any:
    part = _recording(p, t)
    warmth = SimpleNamespace(likeliest=lambda log_tau: 0.001, deviation=lambda log_tau: 0.002)
    model = SimpleNamespace(
        ambient_pa=1e5, sign=-1.0 if inward else 1.0, inward=inward, priors=SimpleNamespace(warmth=warmth),
        readings=SimpleNamespace(noise_pa=noise, resolution_pa=step),
    )  # fmt: skip
    return SimpleNamespace(
        part=part, size_pa=np.abs(part.pressure_pa), window=SimpleNamespace(closed_s=0.0), chosen=SimpleNamespace(found=SimpleNamespace(model=model)), leak=None
    )  # fmt: skip


@pytest.mark.parametrize(("inward", "vapour"), [(False, 0.05 * 30e3), (True, min(13e3, 0.35 * 30e3))])
def test_the_most_that_may_be_given_back(inward: bool, vapour: float) -> None:
    """Gas by its own prior, less after 10 s; 1 K a minute of the walls, 0.2 kPa of the zero; hose, or vapour."""
    fitted = _window_fit([30e3, 29e3], inward=inward)
    absolute = 1e5 + (-30e3 if inward else 30e3)
    most = abs((absolute / 1e5) ** (0.4 / 1.4) - 1.0)
    gas = absolute * min(0.001 + Z * 0.002, most) * math.exp(-5.0 / 10.0)
    drift = (absolute / 293.15 + 200.0) * 90.0 / 60.0
    assert _given_back_pa(fitted, 30e3, 5.0, 90.0) == pytest.approx(gas + drift + max(vapour, 1.5e3), rel=1e-4)
    assert _reading_sd_pa(_window_fit([1.0, 2.0], noise=3.0, step=4.0 * math.sqrt(12.0))) == pytest.approx(5.0)
    assert _between(-5.0, 3.0) == Interval(-5.0, 0.0, 3.0) and _between(5.0, 3.0) == Interval(5.0, 2.0, 8.0)


def test_a_fall_that_needs_no_model() -> None:
    t = np.arange(0.0, 61.0)
    limit = Limit("7 kPa in 60 s", "drop", "given", drop_pa=7e3, time_s=60.0)
    fast = _window_fit(40e3 - 400.0 * t)
    found = plainly_over(limit, fast)
    assert found is not None and (found.basis, found.from_s, found.from_pa) == ("reading", 0.0, 40e3)
    lost = 40e3 - float(np.median((40e3 - 400.0 * t)[-3:]))
    assert found.measured.value == pytest.approx(lost) and found.measured.high - lost == pytest.approx(
        Z * math.sqrt(2.0) * 10.0
    )
    assert plainly_over(limit, _window_fit(40e3 - 150.0 * t)) is None
    started = replace(limit, start_pa=30e3)
    later = plainly_over(started, fast)
    assert later is not None and later.from_s == 25.0 and later.from_pa == 30e3
    assert plainly_over(replace(limit, start_pa=41e3), fast) is None
    short = plainly_over(replace(limit, time_s=30.0, drop_pa=5e3), fast)
    assert short is not None and short.measured.value == pytest.approx(40e3 - (40e3 - 400.0 * 29.0))
    assert plainly_over(replace(limit, time_s=10.0), fast) is None


def test_a_loss_between_readings_without_a_fit() -> None:
    t = np.arange(0.0, 101.0)
    fitted = _window_fit(40e3 - 100.0 * t, noise=10.0)
    hold: Any = SimpleNamespace(start_s=10.0, end_s=100.0, closed_s=5.0)
    limit = Limit("7 kPa in 60 s", "drop", "given", drop_pa=7e3, time_s=60.0)
    own = _read_off(limit, fitted, hold)
    assert (
        own is not None
        and own.measured.value == pytest.approx(6e3)
        and (own.from_s, own.from_pa) == (5.0, pytest.approx(39e3))
    )
    assert own.measured.high - 6e3 == pytest.approx(Z * math.hypot(10.0, 10.0))
    started = _read_off(replace(limit, start_pa=36e3), fitted, hold)
    assert started is not None and started.from_s == pytest.approx(35.0) and started.from_pa == 36e3
    near = _read_off(replace(limit, start_pa=40e3), fitted, hold)
    assert near is not None and near.from_pa == pytest.approx(39e3) and near.from_s == 5.0
    assert (
        _read_off(replace(limit, start_pa=50e3), fitted, hold) is None
        and _read_off(replace(limit, start_pa=20e3), fitted, hold) is None
    )
    assert _read_off(replace(limit, time_s=91.0, drop_pa=20e3), fitted, hold) is None
    assert (
        _read_off(replace(limit, time_s=90.0), fitted, hold) is not None
        and _read_off(replace(limit, time_s=120.0), fitted, hold) is not None
    )  # over already
    dense = np.arange(0.0, 10.0, 0.1)
    level, u = _level(dense, 40e3 - 100.0 * dense, 5.0, 10.0)
    assert level == pytest.approx(39.5e3) and u == pytest.approx(3.0)


# ---------------------------------------------------------------- the hold's ends, marks


def test_ends_phases_and_the_exponential() -> None:
    part = _recording([40e3, 39e3, 38e3, 37e3])
    assert _near(part, 1.2, 0.0) == 39e3 and _near(part, 1.5, 0.6) == 38.5e3 and _near(part, 99.0, 0.5) == 37e3
    hold, fill = Phase("hold", 5.0, 60.0), Phase("fill", 0.0, 5.0)
    assert _split(hold, 5.0, 8.0) == (Phase("stabilise", 5.0, 8.0), Phase("hold", 8.0, 60.0))
    assert _split(hold, 5.0, 5.0) == (hold,) and _split(fill, 0.0, 8.0) == (fill,)
    t = np.arange(0.0, 60.0, 5.0)
    readings = SimpleNamespace(time_s=t, pressure_pa=-(40e3 * np.exp(-t / 30.0)) + 200.0, count=np.full(t.size, 4.0))
    fitted: Any = SimpleNamespace(
        chosen=SimpleNamespace(found=SimpleNamespace(model=SimpleNamespace(readings=readings, sign=-1.0))),
        zero_pa=200.0,
    )
    assert _time_constant_s(fitted, SimpleNamespace(start_s=20.0, closed_s=10.0)) == pytest.approx(30.0)  # type: ignore[arg-type]
    readings.pressure_pa[:2] = -60e3
    assert _time_constant_s(fitted, SimpleNamespace(start_s=20.0, closed_s=10.0)) == pytest.approx(30.0)  # type: ignore[arg-type]
    assert _time_constant_s(fitted, SimpleNamespace(start_s=99.0, closed_s=10.0)) != pytest.approx(30.0, rel=0.02)  # type: ignore[arg-type]


def test_which_stretch_of_a_log_a_mark_is_compared_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """From a hand's second and a half after one mark up to the next."""
    marks = (Mark(20.0, "boot"), Mark(40.0, "seal"), Mark(60.0, "greased"))
    whole: Any = SimpleNamespace(analysis=SimpleNamespace(recording=SimpleNamespace(marks=marks)))
    asked: list[Any] = []
    monkeypatch.setattr(
        marks_room,
        "_change",
        lambda test, begin, mark, end: (
            asked.append((begin, mark, end)) or (None if mark == 40.0 else Interval(0.5, 0.4, 0.6))
        ),
    )
    found = effects(whole)
    assert asked == [(-math.inf, 20.0, 40.0), (21.5, 40.0, 60.0), (41.5, 60.0, math.inf)]
    assert [(e.time_s, e.text) for e in found] == [(20.0, "boot"), (60.0, "greased")]
    moved = marks_room.moved(whole)
    assert [(m.place, m.changed, m.steady) for m in moved] == [
        ("intake-boot", True, False),
        ("shaft-seal", True, False),
    ]
    assert touched("nothing known") is None and touched("SPARK PLUG tightened") == "plug-thread"
    bare = _analysis()
    assert with_marks(bare, None) is bare and with_marks(replace(bare, leak=object()), None).marks == ()


def test_a_hold_on_one_side_of_a_mark(monkeypatch: pytest.MonkeyPatch) -> None:
    recording = _recording(np.linspace(40e3, 30e3, 41))
    whole: Any = SimpleNamespace(
        analysis=SimpleNamespace(recording=recording, used=SimpleNamespace(resolution_pa=SimpleNamespace(value=10.0)))
    )
    window = SimpleNamespace(closed_s=10.0, end_s=20.0)
    monkeypatch.setattr(marks_room, "find", lambda part, resolution: window)
    assert _hold_within(whole, 0.0, 30.0) == (10.0, 20.0) and _hold_within(whole, 0.0, 2.5) is None
    window.end_s = 14.9
    assert _hold_within(whole, 0.0, 30.0) is None
    window.closed_s, window.end_s = 10.5, 13.4
    assert _hold_within(whole, 0.0, 30.0) is None

    def none(part: Any, resolution: float) -> Any:
        raise InputError("no hold")

    monkeypatch.setattr(marks_room, "find", none)
    assert _hold_within(whole, 0.0, 30.0) is None


def test_what_a_judge_hands_back() -> None:
    analysis: Any = SimpleNamespace(
        leak=None,
        recording=SimpleNamespace(source="a.csv"),
        flags=(),
        used=SimpleNamespace(volume_m3=SimpleNamespace(value=1e-4)),
    )
    with pytest.raises(InputError, match="a.csv: there is no hold in it that could be compared"):
        fitted_test(Judged(analysis, None))
    one = FittedTest(analysis, SimpleNamespace(model=SimpleNamespace(inward=True)))  # type: ignore[arg-type]
    assert (
        one.inward
        and not one.detected
        and not one.tight
        and one.rate_pa_s == Interval(None, 0.0, math.inf)
        and one.volume_m3 == 1e-4
    )
    analysis.leak = SimpleNamespace(detected=True, rate_pa_s=Interval(1.0, 0.5, 2.0))
    assert one.detected and not one.tight and one.rate_pa_s.value == 1.0
    analysis.leak.detected = False
    assert one.tight and not one.detected and not one.has("x")
    assert vent_room.AT_PA == 5e3 and Step(1.0, 2.0).time_s == 1.0
