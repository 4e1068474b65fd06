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
from leakdown.fit.choose import _as_good, _climb_of_ends, _far_off, _little_lost, _strained, choose
from leakdown.fit.inputs import inputs_of, priors_of, zero_corrected
from leakdown.fit.interval import CHI2_95, rise_of_95
from leakdown.fit.leak import Vessel, settled_after_s
from leakdown.fit.model import CREEP, DRIFT, LOG_TAU, START, WARMTH, ZERO, HoldModel, priors_for, warmth_sd
from leakdown.fit.search import correlation_widening, search
from leakdown.fit.shape import _stands_out, oddest
from leakdown.hold.parts import resolution_of
from leakdown.hold.readings import prepare
from leakdown.uncertainty import Z_95, student_95
from tests.fit import truth
from tests.fit.helpers import recording
from tests.fit.test_search import plain_model

AMBIENT = 101_325.0
T = np.arange(0.0, 60.0, 0.1)
NOISE = np.random.default_rng(11).normal(0.0, 20.0, T.size)


def model_of(pressure_pa: np.ndarray, time_s: np.ndarray = T, volume_m3: float | None = 250e-6) -> HoldModel:
    readings = prepare(time_s, pressure_pa, 0.0, False)
    inward = bool(pressure_pa[0] < 0)
    return HoldModel(readings, AMBIENT, inward, 35e3, priors_for(0.0, 150.0, 0.01, volume_m3))


def chosen(model: HoldModel):
    return choose(model, 35e3, Vessel(250e-6, None, 293.15, 0.61))


def leaking(rate_pa_s: float, time_s: np.ndarray = T) -> np.ndarray:
    """A weep from 40 kPa, without noise."""
    k, a = truth.geometry(rate_pa_s, 1.0, AMBIENT, 1.0)
    return truth.isothermal(time_s, AMBIENT + 40e3, AMBIENT, k, a) - AMBIENT


# --- priors and inputs ---


def test_an_unknown_volume_leaves_more_doubt_of_the_gas():
    """0.5 to 5 s must be likely (95 %) for any small circuit, and minutes must not."""
    unknown, known = (priors_for(0.0, 150.0, 0.01, volume) for volume in (None, 200e-6))
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
    readings = prepare(T, said.pressure_pa, 0.0, False)

    def window(drift_pa):
        return SimpleNamespace(zero=Zero(0.0, 20.0, "measured", drift_pa), phases=phases)

    assert zero_corrected(said, window(60.0)) is said
    steady = zero_corrected(said, window(200.0)).pressure_pa - said.pressure_pa
    assert np.polyfit(T, steady, 1)[0] == pytest.approx(-200.0 / 90.0, rel=1e-6)
    used = inputs_of(said, 0.61, resolution_of(said))
    still, moving = (priors_of(readings, window(drift), used).drift_sd for drift in (None, 900.0))
    speed = 900.0 / 90.0 / (AMBIENT + 40e3)
    assert 0.1 * speed < math.sqrt(moving**2 - still**2) < 0.6 * speed


def test_a_gauge_too_coarse_for_its_readings_is_refused():
    p = leaking(100.0)
    assert _inputs(recording(T, p, resolution_pa=15e3)).resolution_pa.value == 15e3
    with pytest.raises(UsageError, match="coarser than half"):
        _inputs(recording(T, p, resolution_pa=25e3))


def test_what_filling_leaves_in_the_gas():
    """A few kelvin at most, however high the pressure; cold gas after filling is less likely than warm."""
    assert 3.0 < 293.15 * warmth_sd(700e3, AMBIENT) < 12.0
    assert 293.15 * warmth_sd(2e3, AMBIENT) < 1.0
    model = model_of(leaking(100.0) + NOISE)
    x, spent = model.start(), []
    for x[WARMTH] in (0.0, 0.01, -0.01):
        spent.append(float(np.sum(np.square(model(x)[0][model.readings.time_s.size :]))))
    assert 4.0 < (spent[2] - spent[0]) / (spent[1] - spent[0]) < 25.0


def test_bounds_leave_room_for_what_is_likely():
    """Three standard deviations of each prior, and not a hundred times what a bench does."""
    model = model_of(leaking(100.0) + NOISE)
    _, high = model.bounds()
    soft = model.with_soft_creep().priors
    assert 3.0 * max(soft.creep_sd_pa) < high[CREEP] < 20e3
    assert 3.0 * soft.zero_sd_pa < high[ZERO] < 20e3
    assert 3.0 * soft.drift_sd < high[DRIFT] < 10.0 / 60.0 / 293.15


# --- search ---


def test_readings_that_scatter_more_than_they_say_are_widened():
    found = search(model_of(leaking(100.0) + NOISE).with_sigma(0.4))
    assert found.inflation == pytest.approx(1.0 / 0.4**2, rel=0.35)


def starts(model: HoldModel, monkeypatch: pytest.MonkeyPatch) -> int:
    """How many starts a search took."""
    taken = []
    once = searching._near_the_walls
    with monkeypatch.context() as patch:
        patch.setattr(searching, "_near_the_walls", lambda *args: taken.append(1) or once(*args))
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
        found = oddest(search(model_of(p + np.random.default_rng(2).normal(0.0, 20.0, count), t)))
        assert (found is not None) is told


def test_a_sheet_must_show_more_than_a_log():
    found = search(model_of(leaking(100.0) + NOISE))
    noise = np.random.default_rng(4).normal(0.0, 1.0, 200)
    sheet, log = (replace(found, dof=dof, misfit=1.0) for dof in (6.0, 300.0))
    assert _stands_out(30.0, noise, log) and not _stands_out(30.0, noise, sheet)
    assert _stands_out(90.0, noise, replace(sheet, misfit=15.0))
    assert not _stands_out(12.0, noise, log)


def test_plain_leaks_do_not_strain_their_priors():
    cases = [truth.dense(np.random.default_rng([107, seed])) for seed in range(12)]
    plain = [search(plain_model(case, case.ambient_pa)) for case in cases]
    assert sum(_strained(found) is not None for found in plain) <= 1
    assert _strained(search(model_of(leaking(60.0) + 700.0 * np.exp(-T / 20.0) + NOISE))) is not None


def test_a_log_that_leaves_its_fit_is_unlike_a_leak():
    found = search(model_of(leaking(100.0) + NOISE))
    assert _far_off(replace(found, misfit=1.2)) is None
    assert _far_off(replace(found, misfit=2.0)).name == "unlike"
    few = np.linspace(0.0, 60.0, 9)
    assert _far_off(replace(search(model_of(leaking(100.0, few), few)), misfit=2.0)) is None
    noisy = replace(found.model.readings, time_s=few)
    assert (
        _far_off(
            replace(
                found,
                misfit=2.0,
                model=SimpleNamespace(**vars(found.model) | {"readings": noisy}, creep=HoldModel.creep),
            )
        )
        is None
    )


def test_what_fits_as_well():
    found = search(model_of(leaking(100.0) + NOISE))
    best = replace(found, misfit=1.0)
    assert _as_good(replace(best, misfit=1.0 + 6.0 / best.dof), best)
    assert not _as_good(replace(best, misfit=1.0 + 30.0 / best.dof), best)


def test_slow_noise_is_no_shape():
    """Readings that wander by 60 Pa over seconds, about a plain leak; and what does bend."""
    rng = np.random.default_rng(21)
    slow = 60.0 * np.convolve(rng.normal(0.0, 1.0, T.size + 60), np.ones(61) / math.sqrt(61.0), "valid")
    assert chosen(model_of(leaking(100.0) + slow + NOISE)).odd is None


def test_soft_hose_has_room_in_its_shape():
    """Soft hose gives a kPa or two over a minute (three standard deviations), an ordinary rig far less."""
    ordinary = model_of(leaking(100.0) + NOISE)
    soft = ordinary.with_soft_creep()
    slow_pa = [3.0 * math.hypot(*model.priors.creep_sd_pa[4:]) for model in (ordinary, soft)]
    assert slow_pa[0] < 300.0 and 1.5e3 < slow_pa[1] < 6e3


@pytest.mark.parametrize(("lost_pa", "name"), [(1.2e3, "creep"), (9e3, "opening")])
def test_a_few_per_cent_that_stand_are_creep(lost_pa, name):
    found = chosen(model_of(40e3 - lost_pa * (1.0 - np.exp(-T / 15.0)) + NOISE))
    assert found.odd is not None and found.odd.name == name


@pytest.mark.parametrize(
    ("start_pa", "lost_pa", "little"),
    [(-45e3, 11e3, True), (-45e3, 15e3, False), (-20e3, 6e3, True), (-20e3, 8e3, False), (45e3, 11e3, False)],
)
def test_what_vapour_may_give_back_under_vacuum(start_pa, lost_pa, little):
    p = start_pa * (1.0 - lost_pa / abs(start_pa) * T / T[-1])
    assert _little_lost(model_of(p)) is little


def test_a_climb_is_called_one_when_chance_is_out_of_the_question():
    step = -150.0 * (T > 30.0)
    climbs, leaks = (chosen(model_of(40e3 + 30.0 * T + step + NOISE)), chosen(model_of(leaking(100.0) + step + NOISE)))
    assert climbs.odd is None and climbs.rising_sigmas > 4.0
    assert leaks.odd is not None
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
