"""What each tuned number of the hold decides, from both sides of it."""

from dataclasses import replace

import numpy as np
import pytest

from leakdown.analysis import Phase, Quantity, Zero
from leakdown.hold import parts, trace, window
from leakdown.hold.readings import inferred_resolution_pa, prepare, without_spikes, zero_of
from leakdown.hold.strokes import pumping_in_vain
from leakdown.hold.trace import every_hold_in_log, find_in_log
from leakdown.hold.window import Window
from leakdown.quantities import PRESSURE_PA
from leakdown.recording import Conditions, Mark, Recording

TOLD = Conditions("crankcase", "pressure", 250e-6, 25e-6, 101_325.0)


def noise(n, sd=20.0, seed=0):
    return np.random.default_rng(seed).normal(0.0, sd, n)


def recording(t, p, **more):
    return Recording(np.asarray(t, float), np.asarray(p, float), conditions=TOLD, **more)


# --- readings ---


def test_a_sheet_has_no_noise_of_its_own():
    for n, measured in ((25, False), (35, True)):
        t = np.arange(float(n))
        assert (prepare(t, 40e3 - 50 * t + noise(n), 10.0, False).noise_pa > 0.0) is measured


def test_slow_readings_are_a_sheet():
    assert parts._is_log(np.arange(50) * 1.5) and not parts._is_log(np.arange(50) * 2.5)


def test_marks_of_a_needle_gauge_in_another_unit():
    """Half inHg marks, converted and written to 0.01 kPa."""
    for marks in (0.5, 1.0):
        kpa = np.round(np.array([20, 18, 17, 15, 13, 12, 9]) * marks * PRESSURE_PA["inHg"] / 1e3, 2)
        found = inferred_resolution_pa(kpa * 1e3, "kPa") / PRESSURE_PA["inHg"]
        assert found == pytest.approx(marks, rel=0.01)


def test_few_readings_may_be_of_a_coarse_gauge():
    assert inferred_resolution_pa(np.array([40e3, 35e3, 30e3]), "kPa") == 5e3
    assert inferred_resolution_pa(np.array([40e3, 20e3, 20e3]), "kPa") == 5e3


def test_a_long_log_is_binned():
    def bins(seconds):
        t = np.arange(0.0, seconds, 0.1)
        return np.diff(prepare(t, 40e3 - t, 10.0, False).time_s)

    widths = bins(200.0)
    assert 100 < widths.size < 200
    assert 4.0 < widths[-3:].mean() / widths[:10].mean() < 12.0  # e^2
    longer = bins(1200.0)
    assert 18.0 < longer[-3:].mean() / longer[:10].mean() < 45.0  # e^2 times 4


def test_times_by_hand_are_in_doubt():
    t = np.arange(8) * 10.0
    sigma = prepare(t, 40e3 - 500.0 * t, 10.0, True).sigma_pa[3]
    assert sigma == pytest.approx(150.0, rel=0.3)


def test_a_perfect_log_is_still_in_doubt():
    assert 0.5 < prepare(np.arange(4.0), np.full(4, 40e3), 0.0, False).sigma_pa.max() < 2.0


def test_lone_readings_far_off_are_left_out():
    t = np.arange(100.0)
    for off, spikes in ((6.0, 0), (16.0, 1)):
        p = 40e3 + noise(100, 20.0)
        p[50] = p[[48, 49, 51, 52]].max() + off * 20.0
        assert without_spikes(recording(t, p), 10.0)[1] == spikes
    for off, spikes in ((2.0, 0), (5.0, 1)):
        p = 40e3 + noise(100, 10.0)
        p[47:54] = 40e3, 40e3, 40.5e3, 40.5e3 + off * 500.0, 40e3, 40.5e3, 40e3
        assert without_spikes(recording(t, p), 10.0)[1] == spikes


def test_a_slip_of_the_pen_is_refused():
    def refused(*kpa):
        trouble = parts.parts_of(recording(np.arange(len(kpa)) * 10.0, np.array(kpa) * 1e3)).trouble
        return trouble is not None and "far from its neighbours" in trouble.what

    assert refused(40, 39, 380, 37, 36) and not refused(20, 19, 45, 18, 17)
    assert refused(10, 9, 36, 8, 8) and not refused(40, 38, 36, 34, 1.0, 5.0, 0.5)


# --- zero ---


def zero(lead, p_hold=40e3, tail=0, resolution=10.0):
    p = np.concatenate((lead, np.full(60, p_hold), np.zeros(tail)))
    p += noise(p.size, 1.0)
    t = np.arange(float(p.size))
    return zero_of(Recording(t, p), np.abs(p), len(lead), len(lead) + 59, resolution)


def test_a_zero_is_near_zero_and_stands_still():
    assert zero(np.full(20, 500.0)).source == "measured"  # 1.25 % of the peak
    assert zero(np.full(20, 1300.0)).source == "assumed"  # 3.25 %
    for moved, source in ((4.0, "measured"), (12.0, "assumed")):
        still = np.concatenate((np.zeros(2000), np.full(2000, moved)))
        assert zero(still, resolution=1e-3).source == source
    for factor, source in ((1.7, "measured"), (4.5, "assumed")):
        lead = np.concatenate((np.zeros(16), np.full(16, factor * 2.0 * 144.3 / np.sqrt(32) + 5.0)))
        assert zero(lead, resolution=500.0).source == source


def test_an_unread_zero_is_in_doubt():
    found = zero_of(Recording(np.arange(8.0), np.full(8, 40e3)), np.full(8, 40e3), 0, 7, 10.0)
    assert 75.0 < found.u_pa < 300.0


def test_a_zero_read_once_is_doubted_more():
    once, twice = zero(np.zeros(4000), resolution=0.01), zero(np.zeros(4000), tail=8000, resolution=0.01)
    assert twice.u_pa == pytest.approx(3.0, rel=0.2) and once.u_pa == pytest.approx(20.2, rel=0.1)


# --- sheets ---


def test_a_sheet_s_hold():
    assert parts._sheet(np.array([0.0, 39.99, 40.0, 38.0, 36.0])) == (1, 4)
    assert parts._sheet(np.array([0.0, 39.5, 40.0, 38.0, 36.0])) == (2, 4)
    assert parts._sheet(np.array([24.0, 40.0, 38.0])) == (0, 2)  # no filling: it begins as written
    assert parts._sheet(np.array([10.0, 40.0, 38.0])) == (1, 2)
    assert parts._sheet(np.array([40.0, 38.0, 36.0, 34.0, 0.0])) == (0, 3)
    assert parts._sheet(np.array([40.0, 12.0, 6.0, 0.0])) == (0, 3)
    assert parts._sheet(np.array([40.0, 24.0, 18.0, 0.5])) == (0, 3)  # three times the fall before


# --- logs ---


def log(*pieces, every=0.1, sd=5.0):
    """Pieces of (seconds, end pressure or function of the time in it)."""
    values, last = [], 0.0
    for seconds, piece in pieces:
        t = np.arange(every, seconds + 1e-9, every)
        part = piece(t) if callable(piece) else last + (piece - last) * t / seconds
        values.append(part)
        last = float(part[-1])
    size = np.concatenate(values)
    return np.arange(size.size) * every, size + noise(size.size, sd)


def decay(start, tau):
    return lambda t: start * np.exp(-t / tau)


def found(*pieces, **more):
    t, size = log(*pieces, **more)
    first, last, steps, several = find_in_log(t, size, 10.0)
    return float(t[first]), float(t[last]), len(steps), several


def test_a_slow_climb_is_no_pumping():
    slow = found((2, 0.0), (4, 40e3), (30, decay(40e3, 300.0)), (10, 38.6e3), (20, 38.2e3))
    assert slow[1] > 60.0
    quick = found((2, 0.0), (4, 40e3), (30, decay(40e3, 300.0)), (4, 42e3), (20, 41.8e3))
    assert quick[1] < 40.0 or quick[0] > 36.0


def test_a_step_must_be_noticed():
    small = found((2, 0.0), (4, 40e3), (30, decay(40e3, 3e3)), (0.5, 39.5e3), (30, 39.1e3))
    large = found((2, 0.0), (4, 40e3), (30, decay(40e3, 3e3)), (0.5, 37e3), (30, 36.6e3))
    assert small[2] == 0 and large[2] == 1


def test_a_hold_stands_well_above_zero():
    low = found((2, 0.0), (3, 40e3), (4, decay(40e3, 100.0)), (0.3, 2e3), (40, 1.9e3))
    high = found((2, 0.0), (3, 40e3), (4, decay(40e3, 100.0)), (0.3, 12e3), (40, 11.9e3))
    assert low[1] < 12.0 and high[0] > 8.0


def test_a_leak_after_a_steady_pressure_is_the_hold():
    begin = found((2, 0.0), (4, 40e3), (15, 40e3), (25, decay(40e3, 4.0)))
    assert 19.0 < begin[0] < 23.0 and begin[1] > 30.0
    step = found((2, 0.0), (4, 40e3), (30, decay(40e3, 3e3)), (0.6, 36e3), (30, 35.6e3))
    assert step[2] == 1


def test_slopes_are_of_a_few_readings():
    t, size = log((30, decay(40e3, 100.0)))
    assert 3 <= trace._Trace.of(t, size, 10.0).width <= 6


def test_a_fall_that_quickens_is_not_the_leak():
    for slope, parted in ((1.7e3, False), (2.8e3, True)):  # 1 kPa/s before
        begin, *_ = found((2, 0.0), (4, 40e3), (15, 25e3), (5, 25e3 - 5 * slope), (20, 25e3 - 5.2 * slope))
        assert (begin > 15.0) is parted


def test_the_valve_is_shut_at_the_top_soon_after_the_rise():
    first, *_ = found((2, 0.0), (4, 36e3), (2, 37e3), (4, 36.9e3), (6, 38e3), (30, decay(38e3, 1e3)))
    assert first == pytest.approx(8.0, abs=0.5)


def test_when_a_hold_goes_on_after_a_disturbance():
    def steps(before=20.0, gap=1.0, to=34e3, by=36e3):
        return found((2, 0.0), (4, 40e3), (before, decay(40e3, 3e3)), (gap / 2, by), (gap / 2, to), (20, 0.99 * to))[2]

    assert steps() == 1
    assert steps(before=3.0) == 0
    assert steps(to=24e3, by=26e3) == 0


def test_short_holds_beside_a_long_one_do_not_count():
    for short, several in ((6.0, False), (25.0, True)):
        t, size = log(
            (2, 0.0), (4, 40e3), (40, decay(40e3, 300.0)), (1, 0.0), (5, 0.0),
            (4, 40e3), (short, decay(40e3, 300.0)), (1, 0.0), (3, 0.0),
        )  # fmt: skip
        assert find_in_log(t, size, 10.0)[3] is several
        assert (len(every_hold_in_log(t, size, 10.0)) > 1) is several


def test_a_circuit_that_is_empty_ends_its_hold():
    start, end, *_ = found((2, 0.0), (4, 40e3), (12, decay(40e3, 1.5)), sd=100.0)
    assert end - start == pytest.approx(1.5 * np.log(1 / 0.03), abs=1.5)
    for seconds, ended in ((4.7, False), (8.0, True)):  # empty for 1.2 and 4.5 s
        t, size = log((seconds, decay(40e3, 1.0)), sd=100.0)
        whole = trace._Stretch(0, t.size - 1, False)
        assert (trace._until_empty(trace._Trace.of(t, size, 10.0), whole) < t.size - 1) is ended


# --- what cuts it short ---


def hold(closed_s=0.0, end_s=100.0, start_pa=40e3):
    t = np.arange(0.0, end_s + 0.05, 0.1)
    read = recording(t, start_pa - 10.0 * t)
    return Window(
        read, Quantity(10.0, "given"), 0, closed_s, end_s,
        (Phase("hold", closed_s, end_s),), Zero(0.0, 150.0, "assumed"), (),
    )  # fmt: skip


def test_what_is_left_must_be_a_hold():
    def kept(mark_s, end_s):
        return window.before_mark(hold(end_s=end_s), (Mark(mark_s, "boot"),)) is not None

    assert kept(9.0, 20.0) and not kept(6.5, 20.0)
    assert kept(30.0, 100.0) and not kept(20.0, 100.0)


def test_a_gauge_that_came_down_from_the_end_of_its_range():
    for after_s, used in ((5.0, False), (12.0, True)):
        t = np.arange(0.0, 40.0 + after_s, 0.1)
        p = np.minimum(59.9e3 - 50.0 * (t - 40.0), 60e3) + np.where(t > 40.0, noise(t.size), 0.0)
        top = recording(t, np.minimum(p, 60e3))
        cut = window.while_alive(replace(hold(), recording=top, end_s=float(t[-1])), top)
        assert (cut.saturated_pa is not None) is used


def test_a_fall_just_before_the_hold():
    def said(high, ago_s):
        t = np.arange(0.0, 60.0, 0.1)
        p = np.where((t > 20.0 - ago_s) & (t < 20.5 - ago_s), high, 40e3)
        cut = replace(hold(), recording=recording(t, p), closed_s=20.0, end_s=59.0)
        return window.with_fall_before(cut, cut.recording).fell_from_pa is not None

    assert said(55e3, 3.0) and not said(46e3, 3.0)
    assert said(55e3, 5.0) and not said(55e3, 9.0)


def stuck(count, every=0.1, calm=400):
    p = 40e3 - 5.0 * np.arange(calm + 50.0) + noise(calm + 50)
    p[calm : calm + count] = p[calm]
    return window.frozen_from(np.arange(p.size) * every, p) is not None


def test_how_long_a_gauge_must_stand_still():
    assert stuck(45) and not stuck(25)  # 4.5 and 2.5 s
    assert stuck(25, every=1.0) and not stuck(15, every=1.0)


def test_chance_makes_runs_of_equal_readings():
    """By hand: of neighbours that are equal 55 times in 100, 31 in a row are chance in 400, 48 are none."""
    rng = np.random.default_rng(3)
    for run, froze in ((25, False), (48, True)):
        p = 40e3 + 10.0 * (np.cumsum(rng.random(400) < 0.45) % 2)
        p[200 : 200 + run] = p[200]
        assert (window.frozen_from(np.arange(400) * 0.2, p) is not None) is froze


def test_a_gauge_must_have_been_seen_alive():
    def froze(calm):
        p = np.concatenate((40e3 + noise(calm), np.full(120, 40e3), 40e3 - 500.0 * np.arange(1, 6)))
        return window.frozen_from(np.arange(p.size) * 0.2, p) is not None

    assert froze(60) and not froze(12)


# --- strokes ---


def strokes(count, rise=4e3, top=8e3, pace=1.0, up=0.3, gain=0.0):
    """Strokes: up in a part of their time, down again until the next one; each `gain` of a rise higher."""
    t = np.arange(0.0, 80.0, 0.1)
    beat = t * pace
    within = beat % 1.0
    shape = np.where(within < up, within / up, 1.0 - (within - up) / (1.0 - up))
    size = top - rise + rise * np.where(beat < count, shape + gain * beat, 0.0)
    return pumping_in_vain(t, size + noise(t.size, 1.0), 1.0)


def test_what_is_a_stroke_and_a_gain():
    assert strokes(20, pace=0.3) is not None and strokes(20, pace=0.3, up=0.8) is None  # 1 and 2.7 s
    assert strokes(20, gain=0.1) is not None and strokes(20, gain=0.3) is None


def test_few_strokes_tell_nothing():
    assert strokes(15) is not None and strokes(6) is None


def test_small_rises_are_no_strokes():
    assert strokes(20, rise=900.0, top=8e3) is not None and strokes(20, rise=250.0, top=8e3) is None
    assert strokes(20, rise=260.0, top=1e3) is not None and strokes(20, rise=120.0, top=1e3) is None


def test_a_pause_ends_the_pumping():
    t = np.arange(0.0, 60.0, 0.1)

    def run(pause):
        starts = [*np.arange(0.0, 10.0), *(np.arange(0.0, 12.0) + 10.0 + pause)]
        size = np.full(t.size, 4e3)
        for begin in starts:
            within = t - begin
            up = (within >= 0) & (within < 0.3)
            down = (within >= 0.3) & (within < 1.0)
            size[up] = 4e3 + 4e3 * within[up] / 0.3
            size[down] = 8e3 - 4e3 * (within[down] - 0.3) / 0.7
        return pumping_in_vain(t, size + noise(t.size, 1.0), 1.0).strokes

    assert run(2.0) > run(6.0) + 3


@pytest.mark.parametrize(("by_pa", "another"), [(400.0, False), (2e3, True)])
def test_topping_up_begins_another_hold(by_pa, another):
    """A knock moves the reading by a per cent; a pump does more, and what it does is no slip of a plug."""
    t = np.arange(0.0, 100.0, 0.1)
    size = 40e3 * np.minimum(t / 5.0, 1.0) - 20.0 * np.maximum(t - 5.0, 0.0) + by_pa * np.clip(t - 30.0, 0.0, 1.0)
    first, _, steps, _ = find_in_log(t, size + noise(t.size), 10.0)
    assert bool(t[first] > 29.0) is another
    assert not (another and steps)


def test_the_zero_s_drift_is_what_came_after_less_what_was_before():
    """With its sign; half of it is in doubt, for it may have moved at any time of the hold (common practice)."""
    for before, after in ((20.0, 70.0), (70.0, 20.0)):
        up, hold = np.linspace(before + 3e3, 40e3, 400), np.linspace(40e3, 39e3, 400)
        p = np.concatenate((np.full(400, before), up, hold, np.linspace(39e3, after + 3e3, 400), np.full(800, after)))
        found = zero_of(Recording(np.arange(p.size) * 0.05, p), np.abs(p), 800, 1199, 10.0)
        assert found.drift_pa == pytest.approx(after - before) and found.offset_pa == pytest.approx(45.0)
        assert 25.0 <= found.u_pa < 30.0
    told = Conditions(zero_pa=20.0, zero_after_pa=70.0)
    noted = zero_of(Recording(np.arange(8.0), np.full(8, 40e3), conditions=told), np.full(8, 40e3), 0, 7, 10.0)
    assert (noted.source, noted.drift_pa, noted.offset_pa) == ("given", 50.0, 45.0) and 25.0 <= noted.u_pa < 30.0
    for one in (Conditions(zero_pa=20.0), Conditions(zero_after_pa=20.0)):
        single = zero_of(Recording(np.arange(8.0), np.full(8, 40e3), conditions=one), np.full(8, 40e3), 0, 7, 10.0)
        assert single.drift_pa is None and single.offset_pa == 20.0
