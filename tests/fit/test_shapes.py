"""Holds that are no plain leak are called what they are. Invented data; the physics is in `truth`."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from leakdown.judge.analyse import analyse
from leakdown.judge.settings import Settings
from leakdown.recording import Conditions, Mark, Recording
from tests.fit import truth
from tests.fit.helpers import analysed, codes

pytestmark = pytest.mark.slow

AMBIENT = 101_325.0
T = np.arange(0, 60, 0.1)
NOISE = np.random.default_rng(5).normal(0, 30, T.size)


def _leaking(rate_pa_s: float = 200.0, start_pa: float = 40e3, share: float = 1.0) -> np.ndarray:
    k, a = truth.geometry(rate_pa_s, share, AMBIENT, 1.0)
    return truth.isothermal(T, AMBIENT + start_pa, AMBIENT, k, a) - AMBIENT


def test_a_leak_that_closes_at_a_pressure() -> None:
    closes, t = AMBIENT + 15e3, np.arange(0.0, 240.0, 0.4)  # until it nearly stands: before, its end cannot be told
    out = solve_ivp(lambda _, y: [-6e-8 * (y[0] ** 2 - closes**2)], (0, 240), [AMBIENT + 40e3], t_eval=t, rtol=1e-9)
    found = analysed(t, out.y[0] - AMBIENT + NOISE)
    assert "levels-off" in codes(found)
    assert found.leak is not None and found.leak.opening_pa == pytest.approx(15e3, rel=0.15)


def test_levelling_off_under_vacuum_names_fuel_vapour() -> None:
    p = -40e3 + 8e3 * (1 - np.exp(-T / 15)) + NOISE
    found = analysed(T, p, direction="vacuum")
    text = next(flag.text for flag in found.flags if flag.code in ("levels-off", "creep"))
    assert "vapour" in text


def test_a_leak_that_grows() -> None:
    def rates(t: float, y: np.ndarray) -> list[float]:
        return [-1e-8 * (1 + t / 20) * (y[0] ** 2 - AMBIENT**2)]

    out = solve_ivp(rates, (0, 60), [AMBIENT + 40e3], t_eval=T, rtol=1e-9)
    found = analysed(T, out.y[0] - AMBIENT + NOISE)
    assert "leak-grows" in codes(found)
    assert found.leak is not None and found.leak.growth_per_min == pytest.approx(3.0, rel=0.2)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_leak_that_pressure_holds_shut(sign) -> None:
    """A flap: its flow falls with the pressure across it, the law by hand and integrated by scipy."""

    def rates(_: float, y: np.ndarray) -> list[float]:
        return [-6e3 * np.sqrt(max(y[0], 0.0) / 40e3) * np.exp(-3.0 * y[0] / 40e3)]

    out = solve_ivp(rates, (0, 60), [42e3], t_eval=T, rtol=1e-9, max_step=0.2)
    direction = "pressure" if sign > 0 else "vacuum"
    found = analysed(T, sign * out.y[0] + NOISE, limit="7 kPa in 60 s from 40 kPa", direction=direction)
    assert found.verdict is not None and found.verdict.word == "fail"
    assert codes(found) & {"shut-by-pressure", "leak-grows", "no-fit"}


def test_a_pressure_that_rises_is_never_a_leak_and_never_a_pass() -> None:
    found = analysed(T, 40e3 + 20 * T + NOISE)
    assert "pressure-rises" in codes(found)
    assert found.leak is not None and not found.leak.detected and found.leak.rate_pa_s.low == 0.0
    assert found.verdict is not None and found.verdict.word == "undecided"


def test_soft_hose_creep_is_not_a_leak() -> None:
    found = analysed(T, 40e3 + 1500 * np.exp(-T / 20) + NOISE)
    assert codes(found) & {"creep", "levels-off", "leak-shrinks"}
    assert found.leak is not None and not found.leak.detected


def test_lone_spikes_are_left_out() -> None:
    p = _leaking() + NOISE
    p[200], p[400] = 0.0, 90e3
    found = analysed(T, p)
    assert "spikes" in codes(found) and "step" not in codes(found)
    assert found.leak is not None and found.leak.rate_pa_s.value == pytest.approx(200.0, rel=0.02)


def test_a_small_step_seen_only_in_the_residuals() -> None:
    p = _leaking() + NOISE
    p[300:] -= 150.0
    found = analysed(T, p)
    assert "step" in codes(found)
    assert found.leak is not None and found.leak.rate_pa_s.low <= 200.0 <= found.leak.rate_pa_s.high


def test_the_temperature_column_is_used() -> None:
    # ideal gas at constant volume: dp/p = dT/T (Gay-Lussac)
    kelvin = 293.15 - 0.5 / 60 * T
    p = (_leaking() + AMBIENT) * kelvin / 293.15 - AMBIENT + NOISE
    without = analysed(T, p).leak
    with_column = analysed(T, p, temperature_k_column=kelvin + np.random.default_rng(1).normal(0, 0.05, T.size)).leak
    assert without is not None and with_column is not None
    assert abs(with_column.rate_pa_s.value - 200.0) < abs(without.rate_pa_s.value - 200.0)
    assert with_column.rate_pa_s.low <= 200.0 <= with_column.rate_pa_s.high


def test_a_frozen_gauge_is_suspected() -> None:
    found = analysed(T, np.full(T.size, 40e3))
    assert {"frozen", "connection-not-proven"} <= codes(found)


PSI = 6894.757293168


def test_two_readings_give_a_wide_interval() -> None:
    found = analysed([0, 40], [7 * PSI, 5 * PSI], unit="psi", by_hand=True)
    assert "few-readings" in codes(found)
    rate = found.leak.rate_pa_s if found.leak else None
    # nobody saw the filling: gas that was pumped up in a second may have given back most of those 2 psi
    assert rate is not None and rate.low == 0.0
    steady = 2.0 * PSI / 40.0
    assert steady < rate.high < 2.5 * steady


@pytest.mark.parametrize("readings", [2, 7])
def test_no_movement_gives_an_upper_limit(readings: int) -> None:
    found = analysed(
        np.linspace(0, 60, readings), [6.25 * PSI] * readings, unit="psi", by_hand=True, resolution_pa=0.25 * PSI
    )
    assert found.leak is not None and not found.leak.detected
    # a true fall of one step over the hold is the most that can hide (rounding, any phase): 1.72 kPa a minute
    assert 0.5 * 1723.7 / 60 < found.leak.rate_pa_s.high < 2.0 * 1723.7 / 60
    assert "connection-not-proven" in codes(found)


def test_without_a_volume_everything_else_is_still_given() -> None:
    found = analysed(T, _leaking() + NOISE, volume_m3=None)
    assert found.leak is not None and found.leak.throughput_pa_m3_s is None and found.leak.hole_m is None
    assert found.leak.rate_pa_s.value == pytest.approx(200.0, rel=0.02)
    assert found.half_life_s is not None and "volume-unknown" in codes(found)


def test_what_was_done_at_a_mark_parts_the_hold() -> None:
    p = _leaking(400.0)
    after = T > 30
    p[after] = np.interp(30.0, T, p) * np.exp(-(T[after] - 30.0) / 400)
    found = analysed(T, p + NOISE, marks=(Mark(30.0, "boot pushed"),))
    assert "split-at-mark" in codes(found)
    assert found.leak is not None and found.leak.rate_pa_s.low <= 400.0 <= found.leak.rate_pa_s.high


def test_a_mark_at_which_nothing_changes_parts_nothing() -> None:
    found = analysed(T, _leaking() + NOISE, marks=(Mark(30.0, "looked at the watch"),))
    assert "split-at-mark" not in codes(found) and found.hold.end_s == T[-1]


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("flow", [300.0, 1000.0])
@pytest.mark.parametrize("opens_pa", [2e3, 9e3])
def test_a_leak_that_soon_closes_is_no_settling(opens_pa, flow, sign):
    """A valve's linear flow above its opening, by its closed form: size(t) = opening + rest exp(-t/tau)."""
    rng = np.random.default_rng(4)
    t = np.arange(0.0, 60.0, 0.5)
    tau_s = (15e3 - opens_pa) / flow
    size = opens_pa + (15e3 - opens_pa) * np.exp(-t / tau_s) + rng.normal(0.0, 20.0, t.size)
    direction = "pressure" if sign > 0 else "vacuum"
    told = Conditions("crankcase", direction, 250e-6, 10e-6, 101_325.0)
    result = analyse(Recording(t, sign * size, conditions=told), Settings(quote_pa=14e3))
    assert result.leak.detected and "levels-off" in [flag.code for flag in result.flags]
    assert abs(result.leak.opening_pa) == pytest.approx(opens_pa, abs=1000.0)
    true = flow * (14e3 - opens_pa) / (15e3 - opens_pa)  # Pa/s
    assert result.leak.rate_pa_s.low <= true <= result.leak.rate_pa_s.high


def test_a_little_that_is_lost_and_then_stands_may_be_hose():
    rng = np.random.default_rng(5)
    t = np.arange(0.0, 90.0, 0.2)
    p = 40e3 - 3e3 * (1.0 - np.exp(-t / 25.0)) + rng.normal(0.0, 20.0, t.size)
    result = analyse(Recording(t, p, conditions=Conditions("crankcase", "pressure", 250e-6, 10e-6, 101_325.0)))
    assert not result.leak.detected and result.leak.rate_pa_s.low == 0.0
