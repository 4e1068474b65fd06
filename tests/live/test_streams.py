"""What surrounds a recogniser: waking gauges, spikes, clocks, conversion, odd readings."""

from __future__ import annotations

import pytest

from leakdown.errors import UsageError
from leakdown.live.capture.clock import GaugeClock
from leakdown.live.capture.session import Watch
from leakdown.live.lines.line import Sample
from leakdown.live.profiles.profile import Conversion, checked_points, interpolate
from leakdown.live.streams.decode import spread
from leakdown.live.streams.settle import MAX_HELD_S, Settler, SpikeFilter
from leakdown.quantities import PRESSURE_PA, PressureUnit, pressure_unit

KPA = PressureUnit("kPa", 1e3)
HPA = PressureUnit("hPa", 100.0)


def through(stage, values, unit=KPA, every_s=0.1):
    """Values after a stage; None where refused."""
    samples = [Sample(every_s * i, str(v), v, unit) for i, v in enumerate(values)]
    out = [s for sample in samples for s in stage.feed(sample)] + stage.finish()
    assert [s.raw for s in out] == [s.raw for s in samples], "order kept, nothing lost"
    return [s.value for s in out]


@pytest.mark.parametrize(
    ("values", "unit", "kept"),
    [
        ([0.0, 0.0, 1009.4, 1009.4], HPA, [None, None, 1009.4, 1009.4]),  # not ready yet
        ([0.0, 0.0, 0.4, 3.0, 12.0], KPA, [0.0, 0.0, 0.4, 3.0, 12.0]),  # a gauge open to air, then pumped
        ([0.0] * 12, KPA, [0.0] * 12),
        ([71.92, 100.82, 100.83], KPA, [None, 100.82, 100.83]),
        ([71.92, 100.82], KPA, [None, 100.82]),
        ([71.92, 100.82], None, [None, 100.82]),
        ([5.0, 20.0, 40.0, 40.0], KPA, [5.0, 20.0, 40.0, 40.0]),  # pumping
        ([0.02, -0.01, 0.03], KPA, [0.02, -0.01, 0.03]),  # noise about zero
        ([85.0, 40.1, 40.1, 40.0], KPA, [None, 40.1, 40.1, 40.0]),
        ([85.0, 40.1, 41.5, 43.0], KPA, [85.0, 40.1, 41.5, 43.0]),  # nothing steady to judge it by
        ([40.0], KPA, [40.0]),
        ([-99.9, -99.9, 0.02, -0.01, 0.01], KPA, [None, None, 0.02, -0.01, 0.01]),  # a fault word until it is ready
    ],
)
def test_false_starts_are_refused_and_real_starts_kept(values, unit, kept):
    assert through(Settler(), values, unit) == kept


def test_a_slow_gauge_is_not_held_back_for_ever():
    settler = Settler()
    assert settler.feed(Sample(0.0, "0", 0.0, KPA)) == []
    assert [s.value for s in settler.tick(MAX_HELD_S)] == [0.0]


@pytest.mark.parametrize(
    ("values", "kept"),
    [
        ([40.0, 39.9, 339.8, 39.7, 39.6], [40.0, 39.9, None, 39.7, 39.6]),
        ([40.0, 39.9, 9.8, 39.7], [40.0, 39.9, None, 39.7]),
        ([40.0, 39.9, 5.0, 1.0, 0.0], [40.0, 39.9, 5.0, 1.0, 0.0]),  # vented
        ([0.0, 12.0, 25.0, 40.0], [0.0, 12.0, 25.0, 40.0]),  # pumped with big strokes
        ([40.0, 20.0, 19.0, 18.0], [40.0, 20.0, 19.0, 18.0]),  # a plug let go
        ([40.0, 300.0], [40.0, 300.0]),  # the end, and little is known
        ([40.0] * 8 + [300.0], [40.0] * 8 + [None]),  # the end: nobody vouches for it
        ([40.0] * 8 + [-99.9, -99.9], [40.0] * 8 + [None, None]),
        ([40.0] * 8 + [0.2], [40.0] * 8 + [0.2]),  # vented at the very end
        ([40.0, 39.9, 99.9, 99.9, 99.9, 39.7], [40.0, 39.9, None, None, None, 39.7]),  # a fault word
        ([40.0, 39.9, 99.9, 99.9, 99.9, 99.9, 39.7], [40.0, 39.9, 99.9, 99.9, 99.9, 99.9, 39.7]),
        ([40.0, 39.9, -99.9, 655.3, 39.7, 39.6], [40.0, 39.9, None, None, 39.7, 39.6]),
    ],
)
def test_only_leaps_that_return_are_refused(values, kept):
    assert through(SpikeFilter(), values) == kept


def test_arrivals_of_one_piece_are_spread_and_never_far_back():
    assert spread(1.00, 1.02, 2) == pytest.approx([1.01, 1.02])
    assert spread(0.0, 10.0, 5)[0] > 9.9


def test_lines_at_the_same_instant_get_times_of_their_own():
    clock = GaugeClock(100.0)
    times = [clock.time_s(100.0 + at_s, None) for at_s in (1.0, 1.0, 0.9)]
    assert clock.settled() is None and times == pytest.approx([1.0, 1.0001, 1.0002])


def test_conversion_of_units_and_absolute_gauges():
    # 1 psi = 6894.757 Pa, 1 inHg (conventional) = 3386.389 Pa: NIST SP 811, App. B.8
    assert Conversion().gauge_pa(5.0, pressure_unit("psi")) == pytest.approx(34_473.79, rel=1e-6)
    assert Conversion().gauge_pa(-12.0, pressure_unit("inHg")) == pytest.approx(-40_636.67, rel=1e-6)
    assert Conversion(barometer_pa=98e3).gauge_pa(138.0, pressure_unit("kPa abs")) == pytest.approx(40e3)
    assert Conversion(KPA, scale=0.1, offset=-1.0).gauge_pa(411.0, None) == pytest.approx(40_100.0)


@pytest.mark.parametrize(("unit", "needle"), [(None, "without a unit"), (pressure_unit("psia"), "absolute pressure")])
def test_conversion_never_guesses(unit, needle):
    with pytest.raises(UsageError, match=needle):
        Conversion().gauge_pa(5.0, unit)


def test_calibration_points_are_joined_by_straight_lines():
    points = checked_points([[102.3, -100.0], [511.5, 0.0], [920.7, 80.0]], "x")
    for shown, true in [(102.3, -100), (306.9, -50), (511.5, 0), (716.1, 40), (920.7, 80), (1125.3, 120), (0, -125)]:
        assert interpolate(points, shown) == pytest.approx(true)


@pytest.mark.parametrize("points", [[[1.0, 2.0]], [[2.0, 0.0], [1.0, 5.0]], [[1.0], [2.0, 3.0]]])
def test_bad_calibration_points_are_refused(points):
    with pytest.raises(UsageError, match="calibration needs"):
        checked_points(points, "x")


def remarks_of(values, every_s=0.1):
    watch = Watch()
    return " | ".join(text for i, v in enumerate(values) for text in watch.feed(every_s * i, v))


def noisy(count, level=40e3):
    return [level - 20.0 * i + 37.0 * ((i * 7) % 5) for i in range(count)]


@pytest.mark.parametrize(
    ("values", "needle"),
    [
        (noisy(40) + [39e3] * 60, "frozen since"),
        ([40e3] * 400, "has not moved for"),
        ([0.0, 20e3, 60e3, 99e3] + [100e3] * 15, "stuck at 100.0 kPa"),
        ([0.0] * 6, "exactly zero"),
        ([v for v in noisy(15) for _ in range(4)], "each value comes 4 times"),
        ([100.8e3 + i for i in range(5)], "absolute gauge open to air"),
    ],
)
def test_odd_readings_are_remarked_once(values, needle):
    said = remarks_of(values)
    assert needle in said
    assert said.count(needle) == 1


def test_an_ordinary_test_gives_no_remark():
    fill = [400.0 * i for i in range(100)]
    assert remarks_of([3.0, -4.0, 2.0, 1.0, *fill, *noisy(300)]) == ""


@pytest.mark.parametrize("values", [[600.0] * 400, [0.0, 1e3, 2e3, 3e3] + [3e3] * 15])
def test_little_pressure_gives_no_remark(values):
    assert remarks_of(values) == ""


def test_every_unit_of_the_tool_is_offered_when_one_is_missing():
    with pytest.raises(UsageError) as caught:
        Conversion().unit_of(None)
    assert all(name in caught.value.remedy for name in PRESSURE_PA)


def test_what_waits_is_let_go_in_time():
    settler = Settler()
    zeros = [Sample(0.1 * i, "0", 0.0, KPA) for i in range(8)]
    assert [len(settler.feed(zero)) for zero in zeros] == [0] * 7 + [8]
    settler = Settler()
    settler.feed(Sample(0.0, "0", 0.0, KPA))
    assert settler.tick(2.9) == [] and len(settler.tick(3.1)) == 1
    spikes = SpikeFilter()
    assert spikes.feed(Sample(0.0, "40", 40.0, KPA)) and not spikes.feed(Sample(0.1, "300", 300.0, KPA))
    assert spikes.tick(3.0) == [] and len(spikes.tick(3.2)) == 1


@pytest.mark.parametrize(("value", "kept"), [(24.0, 24.0), (10.0, None), (90.0, None)])
def test_leaps_without_a_unit(value, kept):
    assert through(SpikeFilter(), [40.0, 39.9, value, 39.7], None)[2] == kept
