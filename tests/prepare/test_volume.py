"""Volumes against hand sums and against an independent propagation of uncertainty."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from leakdown.errors import UsageError
from leakdown.prepare.bench_sums import Engine, assumed_barometer, by_bottle, by_engine, by_syringe, crankcase_ratio
from leakdown.quantities import parse_length, parse_pressure, parse_volume
from leakdown.uncertainty import InputQuantity, last_digit, propagate, read_input
from leakdown.words.preparing import volume_lines, volume_object


def _pa(text: str, what: str) -> float:
    return parse_pressure(text, what).value_pa


def _known(name: str, value: float, u: float) -> InputQuantity:
    return InputQuantity(name, value, u, "given", name)


def test_bottle_value_and_standard_uncertainty():
    # Boyle by hand: 100 (50/16 - 1) = 212.5; u = 1.2074 cm3 by JCGM 100 eq. 10, computed with the
    # `uncertainties` package 3.2.3 for 100(0.3) cm3, 50(0.05) kPa, 16(0.05) kPa.
    sized = by_bottle(_known("bottle", 100e-6, 0.3e-6), _known("before", 50e3, 50.0), _known("after", 16e3, 50.0))
    assert sized.volume_m3.value == pytest.approx(212.5e-6, rel=1e-12)
    assert sized.u_m3 == pytest.approx(1.2073677221154497e-6, rel=1e-6)
    half = 1.959964 * 1.2073677e-6
    assert sized.volume_m3.low == pytest.approx(212.5e-6 - half, rel=1e-4)
    assert sized.volume_m3.high == pytest.approx(212.5e-6 + half, rel=1e-4)
    assert "IS included" in sized.rig


def test_syringe_value():
    # V = p_a dV/dp by hand: 101.325 x 10 / 4.82 = 210.21784 cm3
    sized = by_syringe(
        read_input("10 cm3", "injected", parse_volume),
        read_input("4.82 kPa", "rise", _pa),
        read_input("101.325 kPa", "barometer", _pa),
    )
    assert sized.volume_m3.value == pytest.approx(210.21784232e-6, rel=1e-9)
    assert sized.volume_m3.low < sized.volume_m3.value < sized.volume_m3.high


def test_a_barometer_that_nobody_read():
    """High and low weather are some 3 kPa either side of the standard atmosphere."""
    assumed, high_up = assumed_barometer(None), assumed_barometer(84_556.0)
    assert assumed.value == 101_325.0 and high_up.value == 84_556.0
    assert 2e3 < 1.96 * assumed.u < 4e3


def test_a_coarse_measurement_says_what_would_help():
    def warned(u_pa):
        sized = by_bottle(_known("bottle", 1e-4, 1e-7), _known("before", 50e3, 50.0), _known("after", 16e3, u_pa))
        return " ".join(sized.warnings)

    assert "most of it from after" in warned(2e3)
    assert "most of it" not in warned(500.0)


def test_throughput_example_of_the_guide():
    # q = V dp/dt with 200(4) cm3, 1500(20) Pa, 60.0(2) s: relative doubts add in quadrature, by hand
    # hypot(2 %, 1.3333 %, 0.33333 %) of 0.005 Pa m3/s = 1.2134e-4.
    found = propagate(
        lambda v, dp, dt: v * dp / dt, (_known("V", 2e-4, 4e-6), _known("dp", 1500.0, 20.0), _known("dt", 60.0, 0.2))
    )
    assert found.value == pytest.approx(0.005)
    assert found.u == pytest.approx(0.005 * math.hypot(0.02, 20 / 1500, 0.2 / 60), rel=1e-6)


@given(st.floats(20, 1000), st.floats(20, 90), st.floats(0.1, 0.9), st.floats(1e-4, 0.03), st.floats(1e-4, 0.03))
def test_propagation_agrees_with_an_independent_package(size, before, share, rel_bottle, rel_after):
    after = before * share
    ours = by_bottle(
        _known("bottle", size, rel_bottle * size),
        _known("before", before, 0.01 * before),
        _known("after", after, rel_after * after),
    )
    b, p, q = ufloat(size, rel_bottle * size), ufloat(before, 0.01 * before), ufloat(after, rel_after * after)
    theirs = b * (p / q - 1)
    assert ours.volume_m3.value == pytest.approx(theirs.nominal_value, rel=1e-9)
    assert ours.u_m3 == pytest.approx(theirs.std_dev, rel=1e-4)


def test_engine_volume_by_hand():
    # bore 44, stroke 32: pi/4 4.4^2 3.2 = 48.6571 cm3; / 0.45 = 108.127; + swept + 4 + 12 = 172.784
    length = {"bore": "44 mm", "stroke": "32 mm"}
    bore, stroke = (read_input(text, name, parse_length, nominal=True) for name, text in length.items())
    clearance, rig = (read_input(f"{v} cm3", "v", parse_volume) for v in (4, 12))
    engine = Engine(bore, stroke, crankcase_ratio("1.45"), clearance, rig)
    assert 0.03 < 1.96 * crankcase_ratio("1.45").u < 0.1  # of a printed figure
    assert crankcase_ratio("1,45 +/- 0.02").u == pytest.approx(0.02 / 1.959964, rel=1e-6)
    for wrong, says in (("4.5", "outside 1.1 to 3"), ("much", "is no number")):
        with pytest.raises(UsageError, match=says):
            crankcase_ratio(wrong)
    swept = math.pi / 4 * 4.4**2 * 3.2
    opened = by_engine(engine)
    assert opened.volume_m3.value == pytest.approx((swept / 0.45 + swept + 16) * 1e-6, rel=1e-9)
    assert "IS included: 12 cm3" in opened.rig
    closed = by_engine(Engine(bore, stroke, crankcase_ratio("1.45"), ports="closed"))
    assert closed.volume_m3.low <= swept / 0.45 * 1e-6  # piston at bottom
    assert closed.volume_m3.high >= (swept / 0.45 + swept) * 1e-6  # piston at top
    assert "NOT included" in closed.rig


def test_swept_volume_of_a_printed_engine():
    # Crankcase ratio (V_cc + V_s)/V_cc after Blair (SAE R-104, sec. 1.4): 35.16 swept over 78.1 is 1.4502;
    # with 4.2 of clearance the open volume is 78.1 + 35.16 + 4.2 = 117.46 cm3 (sum by hand).
    bore = 0.04
    stroke = 35.16e-6 / (math.pi / 4 * bore**2)
    engine = Engine(
        _known("bore", bore, 1e-5),
        _known("stroke", stroke, 1e-5),
        crankcase_ratio("1.450192061459667"),
        _known("clearance", 4.2e-6, 1e-8),
    )
    assert by_engine(engine).volume_m3.value == pytest.approx(117.46e-6, rel=1e-4)


def test_a_missing_clearance_is_assumed_aloud():
    bore, stroke = _known("bore", 0.044, 1e-5), _known("stroke", 0.032, 1e-5)
    sized = by_engine(Engine(bore, stroke, crankcase_ratio("1.45")))
    assumed = next(x for x in sized.inputs if "clearance not given, assumed" in x.note)
    # 48.66 cm3 swept: a trapped compression of 6 to 12 is 4.4 to 9.7 cm3 (by hand)
    assert 4e-6 < assumed.value < 10e-6
    assert assumed.value - 1.96 * assumed.u < 4.4e-6 and assumed.value + 1.96 * assumed.u < 15e-6


@pytest.mark.parametrize(
    ("text", "step"), [("50 kPa", 1.0), ("4.82 kPa", 0.01), ("0.5 psi", 0.1), ("1,25 bar", 0.01), ("1e2 kPa", 100.0)]
)
def test_last_digit(text, step):
    assert last_digit(text) == pytest.approx(step)


def test_no_interval_is_silently_zero_wide():
    sized = by_bottle(
        read_input("100 cm3", "bottle", parse_volume),
        read_input("50.0 kPa", "before", _pa),
        read_input("16.0 kPa", "after", _pa),
    )
    assert sized.volume_m3.high - sized.volume_m3.low > 0.5e-6
    assert all("assumed" in x.note for x in sized.inputs)


def test_given_doubt_is_95_percent():
    read = read_input("100 cm3 +/- 2 %", "bottle", parse_volume)
    assert read.u == pytest.approx(2e-6 / 1.959964, rel=1e-6)
    assert read_input("100 cm3 ± 2 cm3", "bottle", parse_volume).u == pytest.approx(read.u)
    with pytest.raises(UsageError, match="above zero"):
        read_input("100 cm3 +/- 0 %", "bottle", parse_volume)


@pytest.mark.parametrize(("before", "after"), [(50e3, 60e3), (50e3, -16e3), (50e3, 0.0), (50e3, 50e3)])
def test_impossible_bottles_are_refused(before, after):
    with pytest.raises(UsageError, match="must fall"):
        by_bottle(_known("bottle", 1e-4, 1e-6), _known("before", before, 50.0), _known("after", after, 50.0))


def test_a_vacuum_bottle_works_alike():
    sized = by_bottle(_known("b", 1e-4, 1e-7), _known("before", -50e3, 50.0), _known("after", -16e3, 50.0))
    assert sized.volume_m3.value == pytest.approx(212.5e-6)


def test_object_and_lines_say_the_same():
    sized = by_bottle(_known("b", 1e-4, 3e-7), _known("before", 50e3, 50.0), _known("after", 16e3, 50.0))
    found = volume_object(sized)["volume_cm3"]
    assert found["value"] == pytest.approx(212.5)
    assert found["low"] < found["value"] < found["high"]
    text = "\n".join(volume_lines(sized, 80, lambda words, *_: [words]))
    assert "Volume 212.5 cm3" in text
    assert "IS included" in text
    assert '--volume "212.5 cm3"' in text
