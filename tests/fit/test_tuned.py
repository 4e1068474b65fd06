"""Where tuned numbers of the fit take effect, one by one: each test fails when its number is badly wrong."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from leakdown.analysis import Phase, Zero
from leakdown.errors import UsageError
from leakdown.fit import ratio
from leakdown.fit import search as searching
from leakdown.fit.choose import _climb_of_ends, choose
from leakdown.fit.inputs import inputs_of, priors_of, zero_corrected
from leakdown.fit.interval import CHI2_95, rise_of_95
from leakdown.fit.leak import Vessel, settled_after_s
from leakdown.fit.model import CREEP, DRIFT, LOG_TAU, START, WARMTH, ZERO, HoldModel
from leakdown.fit.priors import priors_for, start_warmth, waited_warmth
from leakdown.fit.search import correlation_widening, search
from leakdown.fit.shape import biggest_jump, worth_a_look
from leakdown.hold.parts import resolution_of
from leakdown.hold.readings import prepare
from leakdown.uncertainty import Z_95, student_95
from tests.fit import truth
from tests.fit.helpers import recording

AMBIENT = 101_325.0
WARMTH_KNOWN = waited_warmth(40e3, AMBIENT, 3.0, 1.0)
T = np.arange(0.0, 60.0, 0.1)
NOISE = np.random.default_rng(11).normal(0.0, 20.0, T.size)


def model_of(pressure_pa: np.ndarray, time_s: np.ndarray = T, volume_m3: float | None = 250e-6) -> HoldModel:
    readings = prepare(time_s, pressure_pa, 0.0, False)
    inward = bool(pressure_pa[0] < 0)
    return HoldModel(
        readings,
        AMBIENT,
        inward,
        35e3,
        priors_for(0.0, 150.0, waited_warmth(float(pressure_pa[0]), AMBIENT, 3.0, -1.0 if inward else 1.0), volume_m3),
    )


def chosen(model: HoldModel):
    return choose(model, 35e3, Vessel(250e-6, None, 293.15, 0.61))


def leaking(rate_pa_s: float, time_s: np.ndarray = T) -> np.ndarray:
    """A weep from 40 kPa, without noise."""
    k, a = truth.geometry(rate_pa_s, 1.0, AMBIENT, 1.0)
    return truth.isothermal(time_s, AMBIENT + 40e3, AMBIENT, k, a) - AMBIENT


# --- priors and inputs ---


def test_an_unknown_volume_leaves_more_doubt_of_the_gas():
    """0.5 to 5 s must be likely (95 %) for any small circuit, and minutes must not."""
    unknown, known = (priors_for(0.0, 150.0, WARMTH_KNOWN, volume) for volume in (None, 200e-6))
    least, most = (math.exp(unknown.log_tau + sign * Z_95 * unknown.log_tau_sd) for sign in (-1.0, 1.0))
    assert 0.05 < least < 0.5 and 5.0 < most < 30.0
    assert known.log_tau_sd < unknown.log_tau_sd


def test_gas_that_follows_the_walls_at_once_is_believed():
    model = model_of(leaking(100.0) + NOISE)
    x = model.start()
    spent = []
    for tau_s in (1.8, 0.1):
        x[LOG_TAU] = math.log(tau_s)
        spent.append(float(np.sum(np.square(model(x)[0][model.readings.time_s.size :]))))
    assert spent[1] - spent[0] < 3.0


def _inputs(said):
    return inputs_of(said, 0.61, resolution_of(said))


def test_a_drift_of_the_zero_is_taken_off_from_100_pa_on():
    said = recording(T, leaking(100.0) + NOISE)
    phases = (Phase("zero", -20.0, -10.0), Phase("zero", 70.0, 80.0))

    def window(drift_pa):
        zero = Zero(0.0, 20.0, "measured", drift_pa)
        return SimpleNamespace(zero=zero, phases=phases, closed_s=0.0)

    assert zero_corrected(said, window(60.0)) is said
    steady = zero_corrected(said, window(200.0)).pressure_pa - said.pressure_pa
    assert np.polyfit(T, steady, 1)[0] == pytest.approx(-200.0 / 90.0, rel=1e-6)
    used = inputs_of(said, 0.61, resolution_of(said))
    unread, still, moving = (priors_of(said, window(drift), used).drift_sd for drift in (None, 0.0, 900.0))
    speed = 900.0 / 90.0 / (AMBIENT + 40e3)
    assert 0.1 * speed < math.sqrt(moving**2 - still**2) < 0.6 * speed
    assert 30.0 < math.sqrt(unread**2 - still**2) * 60.0 * (AMBIENT + 40e3) < 150.0  # Pa/min: 100 is a good gauge


def test_a_thermometer_leaves_less_doubt_of_the_walls():
    """Unread, 1 K/min is met (sun, a warm engine); read, a tenth of that is much."""
    unread, read = (
        priors_for(0.0, 150.0, WARMTH_KNOWN, None, thermometer=k).drift_sd * 60.0 * 293.15 for k in (False, True)
    )
    assert 0.3 < unread < 1.0 and read < 0.1


def test_a_gauge_too_coarse_for_its_readings_is_refused():
    p = leaking(100.0)
    assert _inputs(recording(T, p, resolution_pa=15e3)).resolution_pa.value == 15e3
    with pytest.raises(UsageError, match="coarser than half"):
        _inputs(recording(T, p, resolution_pa=25e3))


def test_what_filling_leaves_in_the_gas():
    """Against the first law by hand: all of it without heat exchange, none after many time constants."""
    t = np.linspace(0.0, 1.0, 101)
    p = AMBIENT + 40e3 * t
    filled = start_warmth(t, p, 1.0, AMBIENT, 1.0)
    slow, quick = filled.at(math.log(300.0), 0.0), filled.at(math.log(0.05), 0.0)
    ratio = 1.0 + 40e3 / AMBIENT
    cold = 1.4 * ratio / (1.4 + ratio - 1.0)  # filled from room air: T/T0 = g r / (g + r - 1)
    warm = ratio ** (0.4 / 1.4)  # compressed with no heat lost
    assert cold - 1.0 < filled.likeliest(math.log(300.0)) < 1.05 * (warm - 1.0)
    assert abs(filled.likeliest(math.log(0.05))) < 0.15 * (cold - 1.0)
    assert abs(slow[0]) > 3.2 > abs(quick[0])
    later = start_warmth(
        np.append(t, np.linspace(1.1, 61.0, 300)), np.append(p, np.full(300, p[-1])), 61.0, AMBIENT, 1.0
    )
    assert abs(later.likeliest(math.log(2.0))) < 0.002
    emptied = start_warmth(t, AMBIENT - 40e3 * t, 1.0, AMBIENT, -1.0)
    adiabatic = (1.0 - 40e3 / AMBIENT) ** (0.4 / 1.4) - 1.0
    assert emptied.likeliest(math.log(300.0)) == pytest.approx(adiabatic, rel=0.05)


def test_what_nobody_saw_of_the_filling():
    """About half of the isentropic warming, one-sided, less the longer the gas was waited for."""
    unseen = waited_warmth(40e3, AMBIENT, 0.0, 1.0)
    isentropic = (1.0 + 40e3 / AMBIENT) ** (0.4 / 1.4) - 1.0
    assert 0.3 < unseen.deviation(0.0) / isentropic < 0.6
    warm, cold = (unseen.at(0.0, share * isentropic)[0] for share in (0.5, -0.5))
    assert 2.0 < abs(cold / warm) < 5.0
    assert waited_warmth(40e3, AMBIENT, 20.0, 1.0).deviation(math.log(2.0)) < 0.05 * unseen.deviation(0.0)


def test_what_a_wait_and_topping_up_leave():
    """A sheet that says so: a third of the filling's warming, and that for as long as was waited for."""
    t = np.arange(0.0, 61.0, 10.0)
    deviations = []
    for told in ({}, {"topped_up": True}, {"waited_s": 20.0}, {"topped_up": True, "waited_s": 20.0}):
        said = recording(t, leaking(100.0, t), by_hand=True, **told)
        used = inputs_of(said, 0.61, resolution_of(said))
        window = SimpleNamespace(zero=Zero(0.0, 100.0, "assumed", None), phases=(), closed_s=0.0)
        deviations.append(priors_of(said, window, used).warmth.deviation(math.log(3.0)))
    nothing, topped, waited, both = deviations
    assert 0.25 < topped / nothing < 0.5
    assert math.exp(-20.0 / 3.0) < waited / nothing < 2.0 * math.exp(-10.0 / 3.0)
    assert both < waited


def test_bounds_leave_room_for_what_is_likely():
    """Three standard deviations of each prior, and not a hundred times what a bench does."""
    model = model_of(leaking(100.0) + NOISE)
    _, high = model.bounds()
    soft = model.in_shape("creep").priors
    assert 3.0 * max(soft.creep_sd_pa) < high[CREEP] < 20e3
    assert 3.0 * soft.zero_sd_pa < high[ZERO] < 20e3
    assert 3.0 * soft.drift_sd < high[DRIFT] < 10.0 / 60.0 / 293.15
    assert (
        1.0 < high[WARMTH] / ((1.0 + 40e3 / AMBIENT) ** (0.4 / 1.4) - 1.0) < 1.3
    )  # a throttled stroke exceeds it a little


# --- search ---


def test_readings_that_scatter_more_than_they_say_are_widened():
    found = search(model_of(leaking(100.0) + NOISE).with_sigma(0.4))
    assert found.inflation == pytest.approx(1.0 / 0.4**2, rel=0.35)


def starts(model: HoldModel, monkeypatch: pytest.MonkeyPatch) -> int:
    """How many starts a search took."""
    taken = []
    once = searching._corner
    with monkeypatch.context() as patch:
        patch.setattr(searching, "_corner", lambda *args: taken.append(1) or once(*args))
        search(model)
    return len(taken)


def test_fits_that_lean_on_their_priors_are_begun_again(monkeypatch):
    assert starts(model_of(leaking(100.0) + NOISE), monkeypatch) == 1
    levels_off = 15e3 + 25e3 * np.exp(-T / 15.0)
    assert starts(model_of(levels_off + NOISE), monkeypatch) > 1


def test_quick_leaks_are_begun_from_every_start(monkeypatch):
    t = np.arange(0.0, 12.0, 0.05)
    noise = np.random.default_rng(3).normal(0.0, 20.0, t.size)
    assert starts(model_of(leaking(4e3, t) + noise, t), monkeypatch) > 1


def test_few_readings_do_not_tell_correlation():
    slow = np.sin(np.linspace(0.0, 6.0, 60))
    assert correlation_widening(slow) > 5.0
    assert correlation_widening(slow[::3]) == 1.0


# --- odd shapes ---


def test_five_readings_have_no_shape():
    for count, told in ((5, False), (40, True)):
        t = np.linspace(0.0, 60.0, count)
        p = leaking(100.0, t) - 400.0 * (t > 31.0)
        found = biggest_jump(search(model_of(p + np.random.default_rng(2).normal(0.0, 20.0, count), t)))
        assert (found is not None) is told


def test_no_jump_is_seen_in_the_valve_itself():
    for at_s, seen in ((0.5, False), (3.0, True)):
        jump = biggest_jump(search(model_of(leaking(100.0) - 300.0 * (at_s < T) + NOISE)))
        assert (abs(jump.time_s - at_s) < 0.5) is seen


def test_a_look_is_taken_when_something_is_left():
    plain, bent = (
        search(model_of(leaking(100.0) + NOISE)),
        search(model_of(leaking(100.0) + 400.0 * np.sin(T / 9.0) + NOISE)),
    )
    assert not worth_a_look(plain) and worth_a_look(bent)
    assert worth_a_look(replace(plain, misfit=1.5)) and not worth_a_look(replace(plain, misfit=1.1))
    noise_free = replace(plain.model.readings, noise_pa=0.0)
    sheet = replace(plain, misfit=1.5, model=SimpleNamespace(**vars(plain.model) | {"readings": noise_free}))
    assert not worth_a_look(sheet)


def test_slow_noise_is_no_shape():
    """Readings that wander by 60 Pa over seconds, about a plain leak; and what does bend."""
    rng = np.random.default_rng(21)
    slow = 60.0 * np.convolve(rng.normal(0.0, 1.0, T.size + 60), np.ones(61) / math.sqrt(61.0), "valid")
    assert chosen(model_of(leaking(100.0) + slow + NOISE)).odd is None


def test_soft_hose_has_room_in_its_shape():
    """Soft hose gives a kPa or two over a minute (three standard deviations), an ordinary rig far less."""
    ordinary = model_of(leaking(100.0) + NOISE)
    soft = ordinary.in_shape("creep")
    slow_pa = [3.0 * math.hypot(*model.priors.creep_sd_pa[4:]) for model in (ordinary, soft)]
    assert slow_pa[0] < 300.0 and 1.5e3 < slow_pa[1] < 6e3
    vapour_pa = 3.0 * math.hypot(*model_of(-leaking(100.0) + NOISE).in_shape("creep").priors.creep_sd_pa[4:])
    assert 8e3 < vapour_pa < 20e3


def test_a_climb_is_called_one_when_chance_is_out_of_the_question():
    step = -150.0 * (T > 30.0)
    climbs, leaks = (chosen(model_of(40e3 + 30.0 * T + step + NOISE)), chosen(model_of(leaking(100.0) + step + NOISE)))
    assert climbs.odd is None and climbs.rising_sigmas > 4.0
    assert leaks.odd is not None and leaks.odd.name == "step"
    assert _climb_of_ends(model_of(40e3 + 0.01 * 40e3 * T / T[-1])) == 0.0
    assert _climb_of_ends(model_of(40e3 + 0.05 * 40e3 * T / T[-1])) > 4.0


def test_a_curve_that_leaves_the_readings_gives_no_size():
    wave = np.sin(T / 4.0)
    assert chosen(model_of(leaking(100.0) + 3e3 * wave + NOISE)).sized is None
    assert chosen(model_of(leaking(100.0) + 150.0 * wave + NOISE)).sized is not None


# --- intervals ---


def test_few_scattered_readings_get_students_interval():
    assert rise_of_95(8.0, 2.0) == student_95(8.0) ** 2
    assert rise_of_95(8.0, 1.1) == rise_of_95(100.0, 5.0) == CHI2_95
    assert student_95(60.0) < 1.025 * Z_95


def test_repeats_may_differ_by_three_deviations(monkeypatch):
    """What the first repeat may add to chi2 beyond what two sets may: two constraints (rate and law)."""
    asked = []
    monkeypatch.setattr(ratio, "_together", lambda parts, enough: asked.append(enough))
    monkeypatch.setattr(ratio, "_by_equal_flow", lambda parts: None)
    part = SimpleNamespace(found=SimpleNamespace(fit=SimpleNamespace(chi2=0.0)))
    for count in (2, 3):
        assert ratio.compared([part] * count) is None
    assert 2.5 < math.sqrt((asked[1] - asked[0]) / 2.0) < 3.5


@pytest.mark.parametrize("start_pa", [40e3, 5e3])
def test_settled_is_when_next_to_nothing_is_left(start_pa):
    """1 % of warmth and a time constant of 2 s: until 0.5 % of the start, or 50 Pa, is left (by hand)."""
    found = search(model_of(np.full(T.size, start_pa) + 0.1 * NOISE))
    x = np.zeros_like(found.fit.parameters)
    x[START], x[WARMTH], x[LOG_TAU] = AMBIENT + start_pa, 0.01, math.log(2.0)
    settled_s = settled_after_s(replace(found, fit=replace(found.fit, parameters=x)))
    left = max(0.005 * start_pa, 50.0)
    assert settled_s == pytest.approx(2.0 * math.log(0.01 * x[START] / left), abs=0.3)
