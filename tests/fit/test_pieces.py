"""Small pieces of the fit against closed forms, quadrature and reference functions of scipy and numpy."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import special
from scipy.integrate import quad
from scipy.stats import chi2 as chi_squared
from scipy.stats import t as student

from leakdown.fit import leak as leak_room
from leakdown.fit.evidence import _beside_a_bound, _scaled_erfc, log_volume
from leakdown.fit.interval import CHI2_95, profile, rise_of_95, straight_profile
from leakdown.fit.leak import Vessel, _at_quote, _times_volume, curve, residuals, settled_after_s
from leakdown.fit.least_squares import least_squares
from leakdown.fit.model import (
    CREEP,
    DRIFT,
    GROWTH,
    LOG_TAU,
    NAMES,
    OPENING,
    RATE,
    RUBBER,
    SHARE,
    START,
    WARMTH,
    ZERO,
    HoldModel,
)
from leakdown.fit.priors import _LOG_TAUS, StartWarmth, _between, _thinned, priors_for
from leakdown.hold.readings import prepare
from leakdown.physics.leak import Leak
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval
from tests.fit import truth

_FIT = tuned("fit")


@pytest.mark.parametrize("z", [0.0, 0.3, 1.0, 4.0, 7.99, 8.0, 8.01, 15.0, 200.0])
def test_scaled_erfc_is_scipy_s(z):
    assert _scaled_erfc(z) == pytest.approx(special.erfcx(z), rel=8e-6)  # the next term at 8: 15/(8 z^6)


@pytest.mark.parametrize("push", [0.0, 0.7, 5.0, 60.0])
@pytest.mark.parametrize("curve", [0.2, 3.0, 40.0])
def test_beside_a_bound_is_the_integral(push, curve):
    """Alone, and with one that follows: it takes along^2 / its own curvature off."""
    exact, _ = quad(lambda u: math.exp(-push * u - 0.5 * curve * u * u), 0.0, 1.0, epsabs=1e-13)
    box = 2.0 * math.pi
    alone = np.array([[curve + box]])
    assert _beside_a_bound(alone, np.array([], dtype=int), 0, push) == pytest.approx(math.log(exact), abs=1e-5)
    coupled = np.array([[curve + 2.0**2 / 8.0 + box, 2.0], [2.0, 8.0]])
    assert _beside_a_bound(coupled, np.array([1]), 0, push) == pytest.approx(math.log(exact), abs=1e-5)


@pytest.mark.parametrize("scale", [1.0, 50.0])
def test_the_volume_of_one_parameter(scale):
    """Inside a wide box sqrt(2 pi)/curvature; a held one is no part of it; in units that are `scale` times finer."""
    jac = np.array([[30.0 / scale, 0.0], [0.0, 4.0]])
    low, high = np.array([-scale, 2.0]), np.array([scale, 2.0])
    found = log_volume(np.zeros(2), jac, np.array([0.0, 2.0]), low, high)
    assert found == pytest.approx(math.log(math.sqrt(2.0 * math.pi) * scale / 30.0), abs=2e-3)
    half = log_volume(np.zeros(2), jac, np.array([scale * (1 - 1e-6), 2.0]), low, high)
    assert half == pytest.approx(found - math.log(2.0), abs=2e-3)


def test_the_rise_that_bounds_95_percent():
    assert chi_squared.ppf(0.95, 1) == pytest.approx(CHI2_95, rel=1e-12)
    assert rise_of_95(50.0, 1.0) == CHI2_95
    assert rise_of_95(3.0, 100.0) == pytest.approx(student.ppf(0.975, 3) ** 2, rel=1e-3)


def straight(x):
    """Three numbers from five readings, coupled."""
    jac = np.array([[1.0, 0.5, 0.0], [0.0, 2.0, 1.0], [1.0, 0.0, 3.0], [2.0, 1.0, 1.0], [0.0, 1.0, -1.0]])
    return jac @ x - np.array([1.0, 2.0, 3.0, 4.0, 0.5]), jac


@pytest.mark.parametrize("index", [0, 1, 2])
@pytest.mark.parametrize("threshold", [CHI2_95, 1.0])
def test_the_profile_of_a_straight_problem_is_its_covariance_s(index, threshold):
    """Value -/+ sqrt(threshold times variance), both ways of getting there; the others at their conditional least."""
    wide = np.full(3, -1e6), np.full(3, 1e6)
    best = least_squares(straight, np.zeros(3), *wide)
    half = math.sqrt(threshold * best.covariance[index, index])
    for found in (profile(straight, best, index, *wide, threshold), straight_profile(best, index, *wide, threshold)):
        assert found.complete and found.better is None
        assert found.low == pytest.approx(best.parameters[index] - half, rel=1e-3)
        assert found.high == pytest.approx(best.parameters[index] + half, rel=1e-3)
        along = best.covariance[:, index] / best.covariance[index, index]
        assert found.at_high == pytest.approx(best.parameters + half * along, abs=3e-3)
        assert found.at_low == pytest.approx(best.parameters - half * along, abs=3e-3)


def test_a_profile_ends_at_its_bounds():
    best = least_squares(straight, np.zeros(3), np.full(3, -1e6), np.full(3, 1e6))
    low, high = np.full(3, -1e6), np.full(3, 1e6)
    low[0], high[0] = best.parameters[0] - 0.01, best.parameters[0] + 0.02
    for found in (profile(straight, best, 0, low, high), straight_profile(best, 0, low, high)):
        assert (found.low, found.high) == (low[0], high[0]) and found.complete


def test_a_bent_profile_ends_where_chi2_has_risen():
    """One number, residual (exp(x) - 2)/0.4 and no other: the ends are logarithms, by hand."""

    def bent(x):
        return np.array([(math.exp(x[0]) - 2.0) / 0.4]), np.array([[math.exp(x[0]) / 0.4]])

    low, high = np.array([-20.0]), np.array([20.0])
    best = least_squares(bent, np.array([0.0]), low, high)
    found = profile(bent, best, 0, low, high)
    away = 0.4 * math.sqrt(CHI2_95)
    assert found.low == pytest.approx(math.log(2.0 - away), rel=0.03)
    assert found.high == pytest.approx(math.log(2.0 + away), rel=0.03)


def test_a_better_place_met_on_the_way_is_said():
    """A fit that stopped short of its least is profiled: the search says where chi2 was lower."""
    wide = np.full(3, -1e6), np.full(3, 1e6)
    best = least_squares(straight, np.zeros(3), *wide)
    at = best.parameters + np.array([0.5, 0.0, 0.0])
    r, jac = straight(at)
    short = replace(best, parameters=at, chi2=float(r @ r), residuals=r, jacobian=jac)
    better = profile(straight, short, 0, *wide).better
    assert better is not None and np.sum(straight(better)[0] ** 2) < short.chi2 - 0.1


def test_between_the_time_constants_of_the_grid():
    values = 3.0 * _LOG_TAUS - 1.0
    for log_tau in np.linspace(_LOG_TAUS[0] + 1e-6, _LOG_TAUS[-1] - 0.1, 9):
        assert _between(log_tau, values) == (pytest.approx(3.0 * log_tau - 1.0), pytest.approx(3.0))
    assert _between(_LOG_TAUS[0] - 5.0, values)[0] == pytest.approx(values[0])
    assert _between(_LOG_TAUS[-1] + 5.0, values)[0] == pytest.approx(values[-1], abs=0.01)


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("warmth", [0.03, 0.001, -0.02])
@pytest.mark.parametrize("log_tau", [0.11, 1.37])
def test_slopes_of_the_start_s_prior(sign, warmth, log_tau):
    """Against central differences; unseen filling widens the side to which it moves the gas."""
    grid = np.arange(_LOG_TAUS.size) / _LOG_TAUS.size
    prior = StartWarmth(0.01 * grid, 0.002 + 0.001 * grid, 0.02 * (1.0 - grid), sign)
    at, by_warmth, by_tau = prior.at(log_tau, warmth)
    step = 1e-6
    ahead, behind = prior.at(log_tau, warmth + step)[0], prior.at(log_tau, warmth - step)[0]
    assert by_warmth == pytest.approx((ahead - behind) / (2 * step), rel=1e-6)
    ahead, behind = prior.at(log_tau + step, warmth)[0], prior.at(log_tau - step, warmth)[0]
    assert by_tau == pytest.approx((ahead - behind) / (2 * step), rel=1e-4, abs=1e-6)
    away = warmth - prior.likeliest(log_tau)
    assert abs(at) >= abs(away) / prior.deviation(log_tau) * (1 - 1e-12)
    if away * sign > 0.0:
        assert at == pytest.approx(away / prior.deviation(log_tau))
    known, unseen = (_between(log_tau, part)[0] for part in (prior.known, prior.unseen))
    assert prior.deviation(log_tau) == pytest.approx(math.hypot(known, unseen))


def test_thinned_readings_keep_their_means_and_the_last_one():
    t = np.arange(1000.0) * 0.01
    p = 1e5 + 1e3 * t
    thin_t, thin_p = _thinned(t, p, 9.99)
    assert thin_t.size <= 201 and thin_t[-1] == t[-1] and thin_p[-1] == p[-1]
    assert thin_p == pytest.approx(1e5 + 1e3 * thin_t) and np.all(np.diff(thin_t) > 0.0)
    few_t, few_p = _thinned(t[:50], p[:50], 0.3)
    assert few_t.tolist() == t[:31].tolist() and few_p.tolist() == p[:31].tolist()


def test_what_a_volume_says_of_the_gas():
    """tau goes with the cube root of the volume; drifts add in quadrature."""
    warmth = StartWarmth(np.zeros(33), np.ones(33), np.zeros(33), 1.0)
    small, large = (priors_for(0.0, 1.0, warmth, volume) for volume in (25e-6, 200e-6))
    assert math.exp(large.log_tau - small.log_tau) == pytest.approx(2.0)
    unknown = priors_for(0.0, 1.0, warmth, None)
    assert unknown.log_tau == large.log_tau and unknown.log_tau_sd > large.log_tau_sd
    watched = priors_for(0.0, 1.0, warmth, None, thermometer=True)
    assert watched.drift_sd < unknown.drift_sd
    drifting = priors_for(0.0, 1.0, warmth, None, drift_1_s=1e-4)
    assert drifting.drift_sd == pytest.approx(math.hypot(1e-4, unknown.drift_sd))


def settling(x, noise_pa=0.1):
    """A stand-in for a fit: gas that forgets with the parameters' tau, no creep."""
    readings = SimpleNamespace(time_s=np.linspace(0.0, 120.0, 121), sigma_pa=np.full(121, noise_pa))
    model = SimpleNamespace(readings=readings, ambient_pa=1e5, creep=lambda t: np.zeros((t.size, len(NAMES) - CREEP)))
    return SimpleNamespace(model=model, fit=SimpleNamespace(parameters=x, converged=True, residuals=np.arange(130.0)))


def test_gas_has_settled_when_next_to_nothing_of_it_is_left():
    """Warmth 0.02 of 140 kPa is 2.8 kPa, dying with tau = 5 s: ln(2800/enough) times 5 s."""
    x = np.zeros(len(NAMES))
    x[START], x[WARMTH], x[LOG_TAU] = 1.4e5, 0.02, math.log(5.0)
    settled = settled_after_s(settling(x, 50.0))
    enough = max(100.0, _FIT.settled_share * 4e4, _FIT.settled_pa)
    assert settled == pytest.approx(5.0 * math.log(2800.0 / enough), abs=0.2)
    x[WARMTH] = -0.02
    assert settled_after_s(settling(x, 50.0)) == settled
    x[WARMTH] = 0.0
    assert settled_after_s(settling(x)) == 0.0
    failed = settling(x)
    failed.fit.converged = False
    assert settled_after_s(failed) == 0.0 and residuals(failed)[0].size == 0


def test_what_may_be_no_creep_at_all_does_not_settle_surely():
    """300 Pa with tau 40 s, known to 50 Pa (normal): of it 300 - 1.96 x 50 Pa are sure."""
    x = np.zeros(len(NAMES))
    x[START], x[CREEP] = 1.4e5, 300.0
    found = settling(x, 50.0)
    found.model.creep = lambda t: np.exp(-t / 40.0)[:, None] * np.eye(1, len(NAMES) - CREEP)
    found.fit.covariance = np.zeros((len(NAMES), len(NAMES)))
    found.fit.covariance[CREEP, CREEP] = 50.0**2
    enough = max(100.0, _FIT.settled_share * 4e4, _FIT.settled_pa)
    assert settled_after_s(found) == pytest.approx(40.0 * math.log(300.0 / enough), abs=0.3)
    told = 300.0 - 1.959964 * 50.0
    assert settled_after_s(found, surely=True) == pytest.approx(40.0 * math.log(told / enough), abs=0.3)
    found.fit.covariance[CREEP, CREEP] = 200.0**2
    assert settled_after_s(found, surely=True) == 0.0


def test_residuals_are_readings_less_fit_in_pa():
    found = settling(np.zeros(len(NAMES)), 2.0)
    t, left = residuals(found)
    assert t is found.model.readings.time_s and left == pytest.approx(-2.0 * np.arange(121.0))


def test_the_band_of_a_curve_is_its_covariance_s():
    """A straight line through zero with slope's sd 0.1: half-width 1.96 x 0.1 t; times on the recording's clock."""
    slope = np.array([2.0])
    plain = SimpleNamespace(predict=lambda x: (x[0] * fine, fine[:, None]))
    fine = np.linspace(0.0, 30.0, 240)
    model = SimpleNamespace(readings=SimpleNamespace(time_s=np.array([0.0, 30.0])), at_times=lambda t: plain)
    fit = SimpleNamespace(parameters=slope, covariance=np.array([[0.01]]))
    found = curve(SimpleNamespace(model=model, fit=fit), 12.0)
    assert found.time_s == pytest.approx(fine + 12.0) and found.pressure_pa == pytest.approx(2.0 * fine)
    assert found.high_pa - found.pressure_pa == pytest.approx(1.959964 * 0.1 * fine)
    assert found.pressure_pa - found.low_pa == pytest.approx(1.959964 * 0.1 * fine)


def test_a_volume_s_doubt_is_added_on_a_log_scale():
    """10 Pa/s exactly in 200 cm3 +/- 10 %: 2e-3, up by 1.1, down by 0.9."""
    vessel = Vessel(200e-6, 20e-6, 293.15, 0.61)
    found = _times_volume(Interval(10.0, 10.0, 10.0), vessel)
    assert (found.value, found.low, found.high) == pytest.approx((2e-3, 1.8e-3, 2.2e-3))
    bound = _times_volume(Interval(None, 0.0, 10.0), vessel)
    assert (bound.value, bound.low, bound.high) == (None, 0.0, pytest.approx(2.2e-3))
    assert _times_volume(Interval(10.0, 9.0, 11.0), Vessel(None, None, 293.15, 0.61)) is None
    sure = _times_volume(Interval(10.0, 9.0, 11.0), Vessel(200e-6, None, 293.15, 0.61))
    assert (sure.low, sure.high) == pytest.approx((1.8e-3, 2.2e-3))


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("share", [0.0, 1.0])
def test_the_first_guess_is_the_leak_itself_when_it_is_plain(sign, share):
    """A settled decay, solved by the tests' own integration (scipy): the rate at 35 kPa, roughly."""
    t, at = np.arange(0.0, 61.0, 1.0), 101_325.0
    k, a = truth.geometry(150.0, share, at, sign)
    p = truth.isothermal(t, at + sign * 40e3, at, k, a) - at
    readings = prepare(t, p, 10.0, False)
    priors = priors_for(0.0, 1.0, StartWarmth(np.zeros(33), np.full(33, 1e-3), np.zeros(33), sign), 250e-6)
    model = HoldModel(readings, at, sign < 0, 35e3, priors)
    guess = model.start(share)
    assert guess[RATE] == pytest.approx(150.0, rel=0.3) and guess[SHARE] == share
    assert guess[START] == pytest.approx(at + sign * 40e3, rel=1e-3)
    low, high = model.bounds()
    assert np.all(low <= guess) and np.all(guess <= high)
    for name in (OPENING, GROWTH):
        assert low[name] == high[name] == 0.0
    closing = model.bounds("opening")[1][OPENING]
    assert 0.9 * min(abs(p[-1]), 40e3) < closing < min(abs(p[-1]) + 100.0, 40e3)
    assert model.bounds("growth")[0][GROWTH] == pytest.approx(-1.0 / 60.0)
    assert low[RATE] == 0.0 and np.all(low[RUBBER:] == -high[RUBBER:]) and low[DRIFT] == -high[DRIFT] < 0.0
    assert low[WARMTH] == -high[WARMTH] < 0.0 and low[ZERO] == -high[ZERO] < 0.0


def test_a_leak_that_is_shut_at_the_quoted_pressure_passes_nothing_there():
    """Closed at 40 kPa, quoted at 35; opened it passes k (p^2 - p_back^2)."""
    at, k = 101_325.0, 2e-8
    for back, flow in ((at + 40e3, 0.0), (at + 20e3, k * ((at + 35e3) ** 2 - (at + 20e3) ** 2))):
        leak = Leak(k, 0.0, at + 50e3, back=back)
        model = SimpleNamespace(leak=lambda x, leak=leak: leak, ambient_pa=at, sign=1.0, inward=False)
        assert _at_quote(SimpleNamespace(model=model), np.zeros(1), 35e3) == pytest.approx(flow)


def test_the_rate_of_a_leak_that_closes_has_its_law_s_doubt(monkeypatch):
    """A quarter either way of the best, or what the plausible openings say where that is more."""
    rates = {1: 10.0, 2: 9.0, 3: 11.0, 4: 30.0, 5: 0.0}
    monkeypatch.setattr(leak_room, "_at_quote", lambda found, x, quote_pa: rates[x])
    found = leak_room._when_closing(None, (1, 2, 3), 35e3, True, 0.5)
    assert (found.value, found.low, found.high) == pytest.approx((10.0, 8.0, 12.5))
    assert leak_room._when_closing(None, (1, 2, 4), 35e3, True, 0.5).high == 30.0
    shut = leak_room._when_closing(None, (1, 5, 3), 35e3, True, 0.5)
    assert (shut.value, shut.low, shut.high) == (None, 0.0, 12.5)
    for best, seen in ((5, True), (1, False)):
        unseen = leak_room._when_closing(None, (best, 2, 3), 35e3, seen, 0.5)
        assert (unseen.value, unseen.low, unseen.high) == (None, 0.0, 11.0)
    assert leak_room._when_closing(None, (5, 5), 35e3, True, 0.5).high == 0.5
