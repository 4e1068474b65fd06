"""Bench sums against hand calculation."""

import json

import pytest

from leakdown.errors import UsageError
from leakdown.judge.idle_air import idle_air_m3_s, idle_share
from leakdown.judge.pumping import pace_of, pumped_leak, stroke_of, usual_stroke
from leakdown.prepare.bench_sums import centre_seal
from leakdown.uncertainty import InputQuantity, Interval
from leakdown.words.bench_results import pumped_lines, pumped_object, seal_lines, seal_object, share_object


def test_a_leak_that_will_not_pump_up():
    # by hand: 1 stroke/s x 15 cm3 x 101.325 kPa = 1.5199 Pa m3/s, about a 0.5 mm hole at 8 kPa
    leak = pumped_leak(8e3, pace_of(1.0), usual_stroke())
    assert leak.throughput_pa_m3_s.value == pytest.approx(1.519875, rel=1e-9)
    assert leak.throughput_pa_m3_s.low < 1.3 < 1.8 < leak.throughput_pa_m3_s.high
    assert leak.hole_m.value == pytest.approx(0.5e-3, abs=0.04e-3)
    assert leak.hole_m.low < leak.hole_m.value < leak.hole_m.high
    plain = json.loads(json.dumps(pumped_object(leak), allow_nan=False))
    assert plain["leak_rate_pa_m3_s"]["value"] == pytest.approx(1.52, abs=0.005)
    assert any("assumed" in line for line in pumped_lines(leak))


def test_a_vacuum_pump_takes_thinner_air():
    leak = pumped_leak(-20e3, pace_of(1.0), stroke_of(15e-6))
    assert leak.throughput_pa_m3_s.value == pytest.approx(15e-6 * 81_325.0)


def test_doubts_of_stroke_and_pace_add_in_quadrature():
    # 20 % and 15 % (95 %) give 25 %
    leak = pumped_leak(8e3, pace_of(1.0), usual_stroke())
    half = (leak.throughput_pa_m3_s.high / leak.throughput_pa_m3_s.low) ** 0.5
    assert half == pytest.approx(2.718281828**0.25, rel=1e-6)


@pytest.mark.parametrize("held", [0.0, -101_325.0])
def test_no_pressure_is_no_result(held):
    with pytest.raises(UsageError):
        pumped_leak(held, pace_of(1.0), usual_stroke())


def test_idle_air_and_share():
    # common practice from memory, no source: 50 cm3 at 2800/min breathes about 28 L/min; a 0.1 mm hole is
    # 0.1 % of it, 0.5 mm 2.4 %, 1 mm 10 % (rough)
    assert idle_air_m3_s(50e-6) * 6e4 == pytest.approx(28.0)
    for hole, share in ((0.1e-3, 0.001), (0.5e-3, 0.024), (1e-3, 0.10)):
        found = idle_share(hole, 50e-6)
        assert found.share.value == pytest.approx(share, rel=0.1)
        assert found.share.high / found.share.value == pytest.approx(3.0)
    assert idle_share(0.1e-3, 50e-6).word == "too small"
    assert idle_share(1e-3, 50e-6).word == "big enough"
    assert "factor of 3" in share_object(idle_share(0.5e-3, 50e-6))["text"]


def _known(name: str, value: float, u: float) -> InputQuantity:
    return InputQuantity(name, value, u, "given", name)


def test_centre_seal_from_the_neighbour():
    # by hand: 250 cm3 x 2 kPa / 60 s = 8.333e-3 Pa m3/s
    seal = centre_seal(_known("rise", 2e3, 20.0), _known("time", 60.0, 0.5), _known("V", 250e-6, 5e-6), 40e3)
    assert seal.throughput_pa_m3_s.value == pytest.approx(8.3333e-3, rel=1e-4)
    assert "Past the centre seal" in seal_lines(seal)[0]
    assert seal_object(seal)["share_of_leak"] is None
    shared = centre_seal(
        _known("rise", 2e3, 20.0),
        _known("time", 60.0, 0.5),
        _known("V", 250e-6, 5e-6),
        40e3,
        Interval(16.667e-3, 16e-3, 17e-3),
    )
    assert shared.share.value == pytest.approx(0.5, rel=1e-3)


def test_a_neighbour_that_rose_much_is_a_lower_bound():
    seal = centre_seal(_known("rise", 8e3, 20.0), _known("time", 60.0, 0.5), _known("V", 250e-6, 5e-6), 40e3)
    assert any("more than this" in note for note in seal.notes)
    with pytest.raises(UsageError, match="must move the way"):
        centre_seal(_known("rise", -2e3, 20.0), _known("time", 60.0, 0.5), _known("V", 250e-6, 5e-6), 40e3)
