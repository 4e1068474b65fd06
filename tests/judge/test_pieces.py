"""Small pieces of judging by hand: where words change, intervals of sums and quotients, slopes against scipy's."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from leakdown.analysis import KnownLeak
from leakdown.errors import UsageError
from leakdown.judge.idle_air import FACTOR, idle_air_m3_s, share_of_hole
from leakdown.judge.known_leak import _age_days, agrees, both_ways, last_of, over
from leakdown.judge.loss import _between, _level, _passes
from leakdown.judge.marks import touched
from leakdown.judge.pop_offs import _first_level, _slope, at_scale_end, pop_offs
from leakdown.judge.pumping import pace_of, pumped_leak, stroke_of
from leakdown.judge.repeats import _whole, pool_values
from leakdown.judge.rig import Rig, RigLeak, _hole, difference, with_leak
from leakdown.judge.vent import VentWay, air_m3_s, judged_in, judged_out
from leakdown.judge.vent_decay import VentDecay, _before_quickening, _fall_per_s, speed_at
from leakdown.judge.verdict import _span
from leakdown.uncertainty import Interval

CM3_MIN = 1e-6 / 60.0


def inward(flow, levels_pa=None):
    return VentWay(flow, levels_pa, 4e3, 8e3, 0.0, 60.0)


@pytest.mark.parametrize(
    ("low", "high", "word", "said"),
    [
        (33.0, 40.0, "pass", "33 cm3/min"),
        (32.9, 40.0, "undecided", "about the"),
        (20.0, 33.0, "undecided", "about the"),
        (20.0, 32.9, "fail", "BLOCKED"),
        (40.0, math.inf, "pass", "at least 40 cm3/min"),
        (0.0, math.inf, "undecided", "cm3/min"),
        (0.0, 5.0, "fail", "at most 5.0 cm3/min"),
    ],
)
def test_the_air_that_gets_in_decides(low, high, word, said):
    """33 cm3/min at 5 kPa (common practice, no source); the whole interval has to be on one side."""
    flow = Interval(None, low * CM3_MIN, high * CM3_MIN)
    found, reason = judged_in(inward(flow), 33.0 * CM3_MIN)
    assert (found, said in reason) == (word, True), reason
    valued = Interval(0.5 * (low + min(high, 99.0)) * CM3_MIN, flow.low, flow.high)
    assert judged_in(inward(valued), 33.0 * CM3_MIN)[0] == word


def test_a_vacuum_that_never_got_there_decides_nothing():
    assert judged_in(inward(None))[0] == "undecided"
    blocked = judged_in(inward(Interval(None, 0.0, 5.0 * CM3_MIN), 6e3))[1]
    assert "(it stands at 6 kPa)" in blocked


@pytest.mark.parametrize(
    ("start", "end", "levels", "kind", "word", "said"),
    [
        (15e3, 0.85 * 15e3, 0.85 * 15e3, "valve", "pass", "holds"),
        (15e3, 0.84 * 15e3, 0.84 * 15e3, "valve", "pass", "relieves"),
        (15e3, 14e3, None, "valve", "undecided", "still falling"),
        (15e3, 5e3, 5e3, "valve", "pass", "relieves"),
        (15e3, 4.99e3, 4.99e3, "valve", "fail", "LEAKS OUTWARD"),
        (60e3, 35e3, 35e3, "valve", "pass", "relieves"),
        (60e3, 36e3, 36e3, "valve", "undecided", "still falling"),
        (4.9e3, 1e3, 1e3, "valve", "undecided", "began at"),
        (5e3, 1e3, 1e3, "valve", "fail", "LEAKS"),
        (15e3, 5e3, None, "valve", "undecided", "hold longer"),
        (15e3, 4e3, None, "valve", "fail", "LEAKS"),
        (15e3, 4e3, None, "breather", "pass", "breathes both ways"),
        (15e3, 4e3, None, "unknown", "fail", "LEAKS"),
    ],
)
def test_what_a_vent_does_outward(start, end, levels, kind, word, said):
    """Holds 85 %; relieves to 5 to 35 kPa (common practice, no source)."""
    found, reason = judged_out(VentWay(None, levels, end, start, 0.0, 60.0), kind)
    assert (found, said in reason) == (word, True), reason


def test_air_of_a_speed_and_a_volume():
    """200 Pa/s (190 to 220) in 500 cm3 +/- 4 % at 100 kPa: 1 cm3/s; 5 % and 4 % down, 10 % and 4 % up, by hand."""
    found = air_m3_s(Interval(200.0, 190.0, 220.0), 500e-6, 20e-6, 100e3)
    assert found.value == pytest.approx(1e-6)
    assert found.low == pytest.approx(1e-6 * (1.0 - math.hypot(0.05, 0.04)))
    assert found.high == pytest.approx(1e-6 * (1.0 + math.hypot(0.10, 0.04)))
    bounds = air_m3_s(Interval(None, 100.0, 200.0), 500e-6, 20e-6, 100e3)
    assert (bounds.value, bounds.low, bounds.high) == (None, pytest.approx(0.48e-6), pytest.approx(1.04e-6))
    assert air_m3_s(Interval(200.0, 190.0, math.inf), 500e-6, 20e-6, 100e3).high == math.inf
    assert air_m3_s(Interval(200.0, 1.0, 220.0), 500e-6, 100e-6, 100e3).low == 0.0


def vent_of(t, size, noise=0.0, rounding=3.0, **more):
    return VentDecay(np.asarray(t, float), np.asarray(size, float), noise, rounding, 0.0, 0.0, float(t[-1]), **more)


def test_fall_of_a_stretch_is_the_regression_s():
    """Standard error of white noise by scipy; rounding counts once over the span."""
    t = np.arange(0.0, 20.0, 0.5)
    size = 8e3 - 150.0 * t + np.random.default_rng(2).normal(0.0, 40.0, t.size)
    known = stats.linregress(t[4:30], size[4:30])
    fall, u = _fall_per_s(vent_of(t, size, 40.0), slice(4, 30))
    assert fall == pytest.approx(-known.slope)
    spread = np.sum((t[4:30] - t[4:30].mean()) ** 2)
    assert u == pytest.approx(math.hypot(40.0, 3.0) / math.sqrt(spread))
    _, coarse = _fall_per_s(vent_of(t, size, 40.0, 30.0), slice(4, 30))
    assert coarse == pytest.approx(math.hypot(40.0 / math.sqrt(spread), math.sqrt(2.0) * 30.0 / 12.5))


def test_the_speed_at_a_level_holds_the_truth():
    """dp/dt = -p/tau from 8 kPa: 5000/tau at 5 kPa, whatever tau; not above its start, none from below it."""
    for tau in (4.0, 20.0, 120.0):
        t = np.arange(0.0, 60.0, 0.5)
        found = speed_at(5e3, vent_of(t, 8e3 * np.exp(-t / tau)), 101_325.0)
        assert found.low <= 5e3 / tau <= found.high
        if tau < 100.0:
            assert found.value == pytest.approx(5e3 / tau, rel=0.1) and found.low > 0.5 * 5e3 / tau
    still = speed_at(5e3, vent_of(t, np.full(t.size, 8e3)), 101_325.0)
    assert still.value is None and still.low == 0.0 and 0.0 < still.high < 5.0
    assert speed_at(8e3, vent_of(t, 8e3 * np.exp(-t / 20.0)), 101_325.0) is None


def test_a_vent_never_quickens():
    t = np.arange(0.0, 30.0, 1.0)
    plain = 8e3 * np.exp(-t / 20.0)
    assert _before_quickening(t, plain, 10.0) == t.size
    let_out = np.where(t > 20.0, 0.0, plain)
    assert _before_quickening(t, let_out, 10.0) == 21


def test_where_a_vent_s_reading_stands():
    t = np.arange(0.0, 50.0, 1.0)
    rests = vent_of(t, 5e3 + 3e3 * np.exp(-t / 3.0))
    assert rests.rest_pa(5.0) == pytest.approx(5e3, abs=5.0) and rests.end_pa == pytest.approx(5e3, abs=1.0)
    assert vent_of(t, 8e3 - 100.0 * t).rest_pa(5.0) is None and vent_of(t[:2], [8e3, 8e3]).rest_pa(5.0) is None
    assert vent_of(t[:4], [8e3, 7.999e3, 6e3, 5e3]).shut == 1
    assert vent_of(t[:4], [8e3, 7e3, 6e3, 5e3]).end_pa == 5e3  # the last one of a sheet


def test_quotients_of_intervals():
    """2 (1.6 to 2.5) over 1 (0.8 to 1.25): every half is ln 1.25, and the hypotenuse sqrt 2 of that."""
    ratio = over(Interval(2.0, 1.6, 2.5), Interval(1.0, 0.8, 1.25))
    wide = math.exp(math.sqrt(2.0) * math.log(1.25))
    assert (ratio.value, ratio.low, ratio.high) == pytest.approx((2.0, 2.0 / wide, 2.0 * wide))
    # upper doubt of the one below meets the lower of the one above
    skew = over(Interval(2.0, 2.0, 2.0), Interval(1.0, 1.0, 1.5))
    assert (skew.low, skew.high) == pytest.approx((2.0 / 1.5, 2.0))
    assert agrees(Interval(1.1, 1.0, 1.2)) and agrees(Interval(0.9, 0.8, 1.0))
    assert not agrees(Interval(1.1, 1.001, 1.2)) and not agrees(Interval(0.9, 0.8, 0.999))


def kept(direction, measured, stated=1.0, kind="hole", text="0.3 mm", volume=1e-4, rate=None, day="2026-01-01"):
    sizes = (Interval(x, 0.95 * x, 1.05 * x) for x in (stated, measured, rate or measured))
    first, second, third = sizes
    return KnownLeak(direction, 35e3, kind, text, "drawn", day, first, second, third, volume)


def test_both_ways_of_a_known_leak():
    """Measured over stated in one direction over the other: by hand 1.2/1.0; alike dimensions add no doubt."""
    found = both_ways([kept("pressure", 1.0), kept("vacuum", 0.9), kept("vacuum", 0.6, stated=0.5)])
    assert found.value == pytest.approx(1.2)
    own = math.sqrt(2.0) * math.log(1.0 / 0.95)
    assert math.log(found.value / found.low) == pytest.approx(math.hypot(own, 0.02), rel=0.03)
    other = both_ways([kept("pressure", 1.0), kept("vacuum", 0.6, stated=0.5, text="0.2 mm")])
    assert other.value == pytest.approx(1.2) and other.low < found.low and other.high > found.high
    certified = [kept(d, 1.0, kind="flow") for d in ("pressure", "vacuum")]
    assert both_ways(certified).high > both_ways([kept(d, 1.0) for d in ("pressure", "vacuum")]).high
    # two volumes: their rates cannot be compared, the throughputs can
    parted = both_ways([kept("pressure", 1.0, rate=7.0), kept("vacuum", 1.0, volume=2e-4, rate=3.0)])
    assert parted.value == pytest.approx(1.0)
    assert both_ways([kept("pressure", 1.0, rate=7.0), kept("vacuum", 1.0, rate=3.5)]).value == pytest.approx(0.5)
    assert both_ways([kept("pressure", 1.0)]) is None and both_ways([kept("vacuum", 1.0)]) is None
    assert last_of([kept("vacuum", 1.0), kept("vacuum", 2.0)], "vacuum").measured_pa_m3_s.value == 2.0


def test_the_age_of_a_known_leak():
    analysis = SimpleNamespace(recording=SimpleNamespace(conditions=SimpleNamespace(started="2026-03-01T08:00")))
    assert _age_days(kept("vacuum", 1.0, day="2026-02-01"), analysis) == 28
    assert _age_days(kept("vacuum", 1.0, day="nobody knows"), analysis) == 0


def test_what_is_left_of_a_hole_and_of_a_rig():
    """Diameters go with the root of the flow: a quarter of it is half the hole."""
    left = _hole(Interval(2e-3, 1.8e-3, 2.2e-3), Interval(4.0, 3.0, 5.0), Interval(1.0, 0.25, 2.25))
    assert (left.value, left.low, left.high) == pytest.approx((1e-3, 0.5e-3, 1.5e-3))
    assert _hole(Interval(None, 0.0, 2e-3), Interval(None, 0.0, 4.0), Interval(None, 0.0, 1.0)).high == 1e-3
    out, into = (RigLeak(d, 35e3, Interval(1.0, 0.9, 1.1), "2026-01-01") for d in ("pressure", "vacuum"))
    rig = with_leak(with_leak(Rig("r", 1e-5, 1e-6), out), into)
    assert rig.leaks == (out, into) and rig.volume_m3 == 1e-5 and rig.leak("vacuum") == into
    assert with_leak(rig, out, 2e-5, 3e-6).leaks == (into, out) and with_leak(rig, out, 2e-5, 3e-6).volume_u_m3 == 3e-6
    # on the edge: 2.236 of doubt about 2.236 leaves a bound
    edge = difference(Interval(5.0**0.5 + 1.0, 5.0**0.5 - 1.0, 9.0), Interval(1.0, 0.5, 2.0))
    assert edge.value is None and edge.low == 0.0 and edge.high > 0.0


def test_pooled_holds_that_all_leak_are_a_leak():
    """However they scatter; where one saw none, only an interval above zero is one."""
    assert _whole(2.0, 1.0, False) == Interval(2.0, 1.0, 3.0)
    scattered = _whole(2.0, 4.0, True)
    assert scattered.value == 2.0 and scattered.low == pytest.approx(2.0 * math.exp(-2.0)) and scattered.high == 6.0
    assert _whole(2.0, 2.0, False) == Interval(None, 0.0, 4.0) and _whole(-3.0, 2.0, False).high == 0.0
    mixed = pool_values([Interval(None, 0.0, 1.96), Interval(1.0, -0.96, 2.96)], "Pa/s", 35e3, "pressure")
    assert mixed.pooled.value is None and mixed.chi2 == pytest.approx(0.5, rel=1e-3)  # 0(1) and 1(1): mean 0.5
    assert mixed.repeatability == pytest.approx(math.sqrt(0.5)) and mixed.limit == pytest.approx(2.8 * math.sqrt(0.5))


def test_when_a_curve_passes_a_level():
    t, size = np.array([0.0, 10.0, 20.0]), np.array([50.0, 40.0, 20.0])
    assert _passes(t, size, 30.0) == pytest.approx(15.0) and _passes(t, size, 45.0) == pytest.approx(5.0)
    assert _passes(t, size, 50.0) == 0.0
    assert (
        math.isnan(_passes(t, size, 51.0)) and math.isnan(_passes(t, size, 20.0)) and math.isnan(_passes(t, size, 5.0))
    )
    assert _between(5.0, 2.0) == Interval(5.0, 3.0, 7.0) and _between(1.0, 2.0) == Interval(1.0, 0.0, 3.0)
    assert _between(-5.0, 2.0) == Interval(-5.0, 0.0, 2.0)


def test_a_level_is_a_line_through_the_readings_near():
    """Six readings or more within a second; else between the two beside it."""
    t = np.arange(0.0, 10.0, 0.25)
    size = 100.0 - 4.0 * t
    at, u = _level(t, size, 5.1, 2.0)
    assert at == pytest.approx(100.0 - 4.0 * 5.1) and u == pytest.approx(2.0 / math.sqrt(8.0))
    dense = np.linspace(0.0, 10.0, 1001)
    assert _level(dense, 100.0 - dense, 5.0, 2.0)[1] == pytest.approx(0.6)
    sparse = np.arange(0.0, 10.0, 2.0)
    assert _level(sparse, 100.0 - sparse**2, 3.0, 2.0) == (pytest.approx(100.0 - 10.0), 2.0)


@pytest.mark.parametrize(
    ("low", "high", "allowed", "words"),
    [
        (3.14159, 3.4567, 7.0, "3.14 to 3.46"),
        (6.98, 7.02, 7.0, "6.98 to 7.02"),
        (7.0001, 7.4, 7.0, "7.0001 to 7.4000"),
        (0.0, 2.0, 7.0, "0 to 2.0"),
        (0.0, 0.0, 7.0, "Less than 0.01"),
        (123.4, 123.4, 700.0, "123"),
        (3.44, 3.48, 0.5, "3.44 to 3.48"),
        (3.1, 3.4, 700.0, "3"),
        (1.0, 9.0, 8.0, "1.0 to 9.0"),
    ],
)
def test_figures_of_a_loss_never_cross_the_limit_by_rounding(low, high, allowed, words):
    assert _span(low, high, allowed) == words


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("tightened the spark plug", "plug-thread"),
        ("reseated the rubber plug", "rig-blanks"),
        ("pressed on the plug", "rig-blanks"),
        ("hand on the hose", "rig-hose"),
        ("held the boot", "intake-boot"),
        ("intake blank pressed", "rig-blanks"),
        ("oil on the magneto side", "seal-flywheel-side"),
        ("oil pump", "rig-hose"),
        ("touched the bootlace", None),
        ("", None),
    ],
)
def test_the_place_that_a_mark_names(text, place):
    assert touched(text) == place


def test_idle_air_by_hand():
    """50 cm3 at 2800 a minute, a fifth of it: 467 cm3/s. Words change at 5 and 1 % (common practice, no source)."""
    assert idle_air_m3_s(50e-6) == pytest.approx(466.7e-6, rel=1e-3)
    assert idle_air_m3_s(50e-6, 1400.0) == pytest.approx(233.3e-6, rel=1e-3)
    hole = 1e-3
    one = share_of_hole(Interval(hole, 0.5 * hole, 2.0 * hole), 50e-6)
    assert one.share.low == pytest.approx(one.share.value / 4.0 / FACTOR)
    assert one.share.high == pytest.approx(one.share.value * 4.0 * FACTOR)
    assert one.leak_m3_s / one.idle_m3_s == pytest.approx(one.share.value)
    unseen = share_of_hole(Interval(None, 0.0, hole), 50e-6)
    assert unseen.share.value is None and unseen.share.low == 0.0 and unseen.word == "may be"
    assert "at most" in unseen.sentence and "about" in one.sentence
    for wanted, word in ((0.051, "big enough"), (0.049, "may be"), (0.0101, "may be"), (0.0099, "too small")):
        size = hole * math.sqrt(wanted / one.share.value)
        assert share_of_hole(Interval(size, size, size), 50e-6).word == word


def test_what_pumping_delivers():
    """Strokes bring room air in; under vacuum they take the thinner air out. No pace and no pressure are refused."""
    out = pumped_leak(8e3, pace_of(2.0), stroke_of(10e-6), 100e3)
    assert out.throughput_pa_m3_s.value == pytest.approx(2.0) and out.hole_m.low < out.hole_m.value < out.hole_m.high
    thin = pumped_leak(-50e3, pace_of(2.0), stroke_of(10e-6), 100e3)
    assert thin.throughput_pa_m3_s.value == pytest.approx(1.0)
    for pace in (0.0, -1.0, math.nan):
        with pytest.raises(UsageError):
            pace_of(pace)
    for held in (0.0, -100e3, -101e3):
        with pytest.raises(UsageError):
            pumped_leak(held, pace_of(2.0), stroke_of(10e-6), 100e3)


def test_slope_after_a_reseat_is_the_regression_s():
    t = np.arange(0.0, 3.0, 0.05) + 11.0
    p = 60e3 * (1.0 - 0.02 * (t - 11.0)) + np.random.default_rng(4).normal(0.0, 100.0, t.size)
    known = stats.linregress(t, p)
    fall, u = _slope(t, p, 60e3)
    assert fall == pytest.approx(-known.slope / 60e3)
    assert u == pytest.approx(known.stderr / 60e3, rel=1e-6)


def test_a_peak_at_the_end_of_the_scale_stands_for_several_readings():
    flat = np.array([90e3, *[100e3] * 8, 60e3])
    assert at_scale_end(flat, 8) and not at_scale_end(flat[[0, 1, 9]], 1)
    assert not at_scale_end(np.append(flat, 120e3), 8)


def test_one_opening_of_a_clean_log():
    """Pumped to 100 kPa in 5 s, down to 60 kPa at once, watched for 5 s at 3 % a second."""
    t = np.arange(0.0, 10.0, 0.05)
    p = np.where(t <= 5.0, 20e3 * t, 60e3 * np.exp(-0.03 * (t - 5.05)))
    (one,) = pop_offs(t, p, 200e3)
    assert one.time_s == pytest.approx(5.0) and one.opening_pa == pytest.approx(100e3) and not one.clipped
    assert one.reseat_pa == pytest.approx(60e3, rel=0.02)
    assert one.fall_per_s[0] == pytest.approx(0.03, rel=0.15) and one.fall_per_s[1] == pytest.approx(0.03, rel=0.15)
    (cut,) = pop_offs(t, p, 100e3)
    assert cut.clipped
    assert _first_level(t[100:], p[100:], 100e3)[0] == 1
    emptied = np.where(t <= 5.0, 20e3 * t, 100e3 * np.exp(-6.0 * (t - 5.0)))
    assert pop_offs(t, emptied, 200e3)[0].reseat_pa is None
    slowly = np.where(t <= 5.0, 20e3 * t, 100e3 - 2e3 * (t - 5.0))
    assert pop_offs(t, slowly, 200e3) == ()
