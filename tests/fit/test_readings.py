"""What is done to readings before and after a fit, by hand: zero and temperature taken off, scatter, climbs."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from leakdown.analysis import Phase, Zero
from leakdown.fit.choose import _climb_at_last, _climb_of_ends
from leakdown.fit.inputs import _zero_speed_pa_s, temperature_corrected, zero_corrected
from leakdown.fit.model import GROWTH, NAMES, OPENING, RATE
from leakdown.fit.rivals import log_evidence
from leakdown.fit.search import correlation_widening
from leakdown.fit.shape import biggest_jump
from leakdown.tuned import tuned
from tests.fit.helpers import recording

T = np.arange(0.0, 61.0, 1.0)


def window(drift_pa, source="measured", phases=(("zero", -20.0, -10.0), ("zero", 70.0, 80.0))):
    return SimpleNamespace(zero=Zero(0.0, 20.0, source, drift_pa), phases=tuple(Phase(*p) for p in phases))


def test_a_zero_s_drift_is_taken_off_about_its_middle():
    """+900 Pa from the middle of the first rest (-15 s) to that of the last (75 s): 10 Pa/s, nothing at 30 s."""
    said = recording(T, np.full(T.size, 30e3))
    moved = zero_corrected(said, window(900.0)).pressure_pa
    assert moved == pytest.approx(30e3 - 10.0 * (T - 30.0))
    back = zero_corrected(said, window(-900.0)).pressure_pa
    assert back == pytest.approx(30e3 + 10.0 * (T - 30.0))


def test_how_fast_the_zero_moved():
    """Read: between the middles of the rests. Written down: over the whole record. One rest tells nothing."""
    assert _zero_speed_pa_s(window(900.0)) == pytest.approx(10.0)
    assert _zero_speed_pa_s(window(900.0, "given")) == pytest.approx(9.0)
    one = (("hold", 0.0, 60.0),)
    assert _zero_speed_pa_s(window(900.0, phases=one)) == 0.0
    assert _zero_speed_pa_s(window(900.0, "given", one)) == pytest.approx(15.0)
    assert _zero_speed_pa_s(window(None)) == 0.0
    same = (("zero", 0.0, 10.0), ("zero", 0.0, 10.0))
    assert _zero_speed_pa_s(window(900.0, phases=same)) == 0.0


def test_temperature_is_taken_off_by_gay_lussac():
    """From 300 to 303 K at constant volume the absolute pressure rises by 1 %: referred to the start it stands."""
    used = SimpleNamespace(barometer_pa=SimpleNamespace(value=100e3))
    kelvin = 300.0 + 0.05 * T
    warmed = recording(T, 140e3 * kelvin / 300.0 - 100e3, temperature_k_column=kelvin)
    steady, moved = temperature_corrected(warmed, used)
    assert steady.pressure_pa == pytest.approx(40e3, abs=1e-3) and moved == pytest.approx(3.0)
    assert temperature_corrected(recording(T, np.full(T.size, 4e4)), used)[1] is None
    two = np.full(T.size, np.nan)
    two[:2] = 300.0
    assert temperature_corrected(recording(T, np.full(T.size, 4e4), temperature_k_column=two), used)[1] is None
    four = two.copy()  # few readings of the thermometer: a straight line through them, no bend
    four[[30, 60]] = 300.0, 303.0
    smooth = np.polyval(np.polyfit(T[[0, 1, 30, 60]], four[[0, 1, 30, 60]], 1), T)
    straight, moved = temperature_corrected(recording(T, np.full(T.size, 4e4), temperature_k_column=four), used)
    assert straight.pressure_pa == pytest.approx(140e3 * smooth[0] / smooth - 100e3) and moved == np.ptp(smooth)
    two[30] = 303.0
    assert temperature_corrected(recording(T, np.full(T.size, 4e4), temperature_k_column=two), used)[1] is not None


def test_correlated_readings_widen_a_mean():
    """AR(1) of r = 0.6: (1 + r)/(1 - r) = 4; white ones and few ones do not."""
    rng = np.random.default_rng(2)
    white = rng.normal(size=20_000)
    slow = np.empty(white.size)
    slow[0] = white[0]
    for k in range(1, white.size):
        slow[k] = 0.6 * slow[k - 1] + white[k]
    assert correlation_widening(slow) == pytest.approx(4.0, rel=0.06)
    assert correlation_widening(white) == pytest.approx(1.0, abs=0.05)
    assert correlation_widening(slow[:4]) == 1.0
    swings = np.resize([1.0, -1.0], 200)
    assert correlation_widening(swings) == 1.0
    # a lag of exactly what chance allows is none: 400 readings, 2/sqrt(400) = 0.1
    assert correlation_widening(np.repeat(np.resize([1.0, -1.0], 100), 4)) > 2.0


def climbing(slope_pa_s, sign=1.0, noise=5.0, sigma=5.0, n=60):
    t = np.linspace(0.0, 60.0, n)
    p = 30e3 - 4e3 * np.exp(-t / 3.0) + slope_pa_s * t + np.random.default_rng(5).normal(0.0, noise, n)
    readings = SimpleNamespace(time_s=t, pressure_pa=sign * p, sigma_pa=np.full(n, sigma))
    return SimpleNamespace(readings=readings, sign=sign, model=SimpleNamespace(readings=readings, sign=sign))


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_climb_of_the_last_half_is_the_regression_s(sign):
    """Slope over its standard error (scipy's, with n - 2), where the scatter is more than the readings state."""
    found = climbing(8.0, sign, noise=20.0)
    t, p = found.readings.time_s, sign * found.readings.pressure_pa
    late = t >= 30.0
    known = stats.linregress(t[late], p[late])
    assert _climb_at_last(found) == pytest.approx(known.slope / known.stderr, rel=1e-6)
    fall = climbing(-8.0, sign)
    assert _climb_at_last(fall) == 0.0
    quiet = climbing(8.0, sign, noise=2.0)  # no surer than the readings state: scatter counts as one at least
    at, p = t[late], sign * quiet.readings.pressure_pa[late]
    sure = stats.linregress(at, p).slope / (5.0 / math.sqrt(np.sum((at - at.mean()) ** 2)))
    assert _climb_at_last(quiet) == pytest.approx(sure, rel=1e-6)
    waves = climbing(8.0, sign, noise=0.0)  # residuals that go together widen it by their own inflation
    waves.readings.pressure_pa[:] += 60.0 * np.sin(t / 1.5)
    p = sign * waves.readings.pressure_pa[late]
    known = stats.linregress(at, p)
    widening = correlation_widening(p - known.intercept - known.slope * at)
    assert widening > 1.5
    assert _climb_at_last(waves) == pytest.approx(known.slope / known.stderr / math.sqrt(widening), rel=1e-6)
    few = climbing(8.0, sign, n=4)
    assert _climb_at_last(few) == 0.0


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_climb_of_the_ends_by_hand(sign):
    """From 30 to 31 kPa, 3 and 4 Pa: 1000/5 deviations; next to nothing is none."""

    def ends(first, last):
        readings = SimpleNamespace(pressure_pa=sign * np.array([first, 3e4, last]), sigma_pa=np.array([3.0, 9.0, 4.0]))
        return _climb_of_ends(SimpleNamespace(readings=readings, sign=sign))

    assert ends(30e3, 31e3) == pytest.approx(200.0)
    assert ends(31e3, 30e3) == 0.0 and ends(30e3, 30e3) == 0.0 and ends(30e3, 30e3 + 1.0) == 0.0


def straight_fit(residuals, jacobian, **more):
    """A stand-in for a fit of a straight problem, all of it free and without priors."""
    n = len(residuals)
    readings = SimpleNamespace(time_s=np.linspace(0.0, 60.0, n), sigma_pa=np.full(n, 2.0), noise_pa=2.0)
    fit = SimpleNamespace(residuals=residuals, jacobian=jacobian, parameters=more.pop("parameters", None))
    model = SimpleNamespace(readings=readings, prior_sd=lambda x: np.ones(1))
    free = np.ones(jacobian.shape[1], dtype=bool)
    plain = dict(inflation=1.0, misfit=1.0, dof=n - 2.0, on_priors=0.0)
    return SimpleNamespace(model=model, fit=fit, free=free, **(plain | more))


def test_the_biggest_jump_is_a_step_s_least_squares():
    """Residuals with a step of 50 Pa at 30 s about a straight line: its size and sd are those of numpy's lstsq."""
    n = 61
    t = np.linspace(0.0, 60.0, n)
    noise = np.random.default_rng(3).normal(0.0, 1.0, n)
    line = np.stack((np.ones(n), t), axis=1) / 2.0
    step = (t >= 30.0) / 2.0
    r = noise - 50.0 * step  # model less reading, in standard deviations of 2 Pa
    r = r - line @ np.linalg.lstsq(line, r, rcond=None)[0]
    found = biggest_jump(straight_fit(r, line))
    whole = np.column_stack((line, step))
    known, rest, *_ = np.linalg.lstsq(whole, -r, rcond=None)
    assert found.time_s == 30.0 and found.size_pa == pytest.approx(known[2], rel=1e-6)
    assert found.sd_pa == pytest.approx(math.sqrt(np.linalg.inv(whole.T @ whole)[2, 2]), rel=1e-6)
    assert found.score == pytest.approx(float(r @ r) - float(rest[0]), rel=1e-6)
    assert float(found.leftover @ found.leftover) == pytest.approx(float(rest[0]), rel=1e-6)


def test_a_jump_is_looked_for_neither_at_the_end_nor_in_the_valve():
    n = 61
    line = np.stack((np.ones(n), np.linspace(0.0, 60.0, n)), axis=1)
    for at in (n - 1, 0):
        r = np.zeros(n)
        r[at] = 30.0
        found = biggest_jump(straight_fit(r - line @ np.linalg.lstsq(line, r, rcond=None)[0], line))
        assert found is not None and 0.0 < found.time_s < 60.0
    assert biggest_jump(straight_fit(np.zeros(3), line[:3])) is None


def test_growth_is_weighed_by_the_hold_s_length():
    """-(growth x span / sd)^2 / 2 of a normal prior stated per hold, all else alike; a larger leak is -log of it."""

    def evidence(growth, rate=100.0, scatter=1.0, **more):
        x = np.zeros(len(NAMES))
        x[GROWTH], x[RATE] = growth, rate
        low, high = np.full(x.size, -1e6), np.full(x.size, 1e6)
        high[OPENING] = low[OPENING] = high[GROWTH] = low[GROWTH] = 0.0
        r = np.full(30, 0.5)
        jac = np.random.default_rng(1).normal(size=(30, x.size))
        return log_evidence(straight_fit(r, jac, parameters=x, lower=low, upper=high, **more), scatter)

    sd = tuned("fit").growth_sd_per_hold
    assert evidence(0.01) - evidence(0.0) == pytest.approx(-0.5 * (0.01 * 60.0 / sd) ** 2)
    scale = tuned("fit").rate_scale_pa_s
    assert evidence(0.0, 300.0) - evidence(0.0) == pytest.approx(-math.log((300.0 + scale) / (100.0 + scale)))
    assert evidence(0.0, on_priors=3.0) - evidence(0.0) == pytest.approx(-1.5)
    assert evidence(0.0, misfit=2.0) - evidence(0.0) == pytest.approx(-0.5 * 28.0)
