"""The fit's own reckoning, function by function: by hand, by finite differences, and against scipy's densities."""

# ruff: noqa: E501  (cases are as long as they are)
from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

from leakdown.analysis import LeakEstimate, Phase, Quantity, Zero
from leakdown.errors import UsageError
from leakdown.fit import choose as choosing
from leakdown.fit import leak as leak_room
from leakdown.fit import ratio as ratio_room
from leakdown.fit import rivals
from leakdown.fit import search as searching
from leakdown.fit.choose import (
    ChosenFit,
    Weighed,
    _climb_at_last,
    _climb_of_ends,
    _leaves_the_readings,
    _named,
    widened_by,
)
from leakdown.fit.evidence import log_volume
from leakdown.fit.inputs import (
    _zero_speed_pa_s,
    ambient_pa,
    inputs_of,
    priors_of,
    temperature_corrected,
    temperature_k,
    zero_corrected,
)
from leakdown.fit.interval import CHI2_95, Profile, _first_step, _Search
from leakdown.fit.leak import SizedLeak, Vessel, _hole, _plausible, _profiled, mixed_leak
from leakdown.fit.least_squares import least_squares, time_constant_s
from leakdown.fit.model import (
    CONVECTION,
    CREEP,
    DRIFT,
    GROWTH,
    KNOWN,
    LOG_TAU,
    NAMES,
    OPENING,
    PRESSED,
    RATE,
    RUBBER,
    SHARE,
    START,
    WARMTH,
    ZERO,
    HoldModel,
)
from leakdown.fit.priors import _LOG_TAUS, StartWarmth, priors_for, start_warmth, waited_warmth
from leakdown.fit.ratio import BASE_RATE, BASE_SHARE, LOG_RATIO, JointHold, _log_rate, _mean
from leakdown.fit.rivals import prior_of, scatter_of, weights_of
from leakdown.fit.search import HoldFit, correlation_widening
from leakdown.fit.search import _scatter as misfit_of
from leakdown.fit.shape import Jump, _scored, biggest_jump, scatter_after, worth_a_look
from leakdown.hold.readings import prepare
from leakdown.recording import Conditions, Recording
from leakdown.uncertainty import Interval
from tests.fit import truth

AMBIENT = 101_325.0
Z = 1.959963984540054


def _model(sign: float = 1.0, count: int = 61, noise: float = 0.0, **more: Any) -> HoldModel:
    t = np.linspace(0.0, 60.0, count)
    k, a = truth.geometry(150.0, 0.7, AMBIENT, sign)
    p = truth.isothermal(t, AMBIENT + sign * 40e3, AMBIENT, k, a) - AMBIENT
    p = p + np.random.default_rng(4).normal(0.0, noise, t.size) if noise else p
    warmth = StartWarmth(np.full(33, 0.002), np.full(33, 3e-3), np.full(33, 1e-3), sign)
    priors = priors_for(0.0, 50.0, warmth, 250e-6)
    return HoldModel(prepare(t, p, 10.0, False), AMBIENT, sign < 0, 35e3, replace(priors, **more))


def _point(model: HoldModel) -> np.ndarray:
    x = model.start(0.6)
    x[LOG_TAU] += 0.3
    x[[WARMTH, ZERO, DRIFT, PRESSED, CONVECTION, RUBBER]] = 0.004, 30.0, 1e-6, 0.05, 0.2, 40.0 * model.sign
    x[CREEP:] = np.arange(1.0, len(NAMES) - CREEP + 1.0) * 7.0
    return x


# ---------------------------------------------------------------- the model


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("odd", ["", "opening", "growth"])
def test_slopes_of_residuals_and_priors(sign: float, odd: str) -> None:
    """Central differences of all rows by every parameter that is sought.

    The slopes by what warms the gas are those of the last Newton step but one: to a few in a hundred.
    """
    model = _model(sign, 13)
    x = _point(model)
    x[OPENING], x[GROWTH] = (8e3 if odd == "opening" else 0.0), (1e-3 if odd == "growth" else 0.0)
    rows, jacobian = model(x)
    assert rows.size == 13 + KNOWN.size
    scale = np.ones(len(NAMES))
    scale[[RATE, START, ZERO]], scale[[DRIFT]] = (0.1, 10.0, 1.0), 1e-8
    scale[[SHARE, LOG_TAU, PRESSED, CONVECTION]], scale[[WARMTH, OPENING, GROWTH]] = 0.1, (1e-2, 100.0, 1e-4)
    sought = (
        [k for k in range(len(NAMES)) if k not in (OPENING, GROWTH)]
        + [OPENING] * (odd == "opening")
        + [GROWTH] * (odd == "growth")
    )
    for k in sought:
        step = np.zeros(len(NAMES))
        step[k] = 1e-2 * scale[k]
        slope = (model(x + step)[0] - model(x - step)[0]) / (2.0 * step[k])
        near = 0.05 if k in (LOG_TAU, CONVECTION, PRESSED) else 2e-3
        assert jacobian[:, k] == pytest.approx(slope, abs=near * max(float(np.abs(slope).max()), 1e-9)), NAMES[k]


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_rows_of_the_priors(sign: float) -> None:
    """(x - centre)/sd; drift, pressed and rubber with tails of exp(-x/sd) rounded off at a tenth of it."""
    model = _model(sign)
    k, x = model.priors, _point(model)
    x[SHARE], x[ZERO], x[LOG_TAU] = 0.9, 30.0, k.log_tau + 0.5
    rows = model(x)[0][model.readings.time_s.size :]
    at = {NAMES[i]: float(rows[n]) for n, i in enumerate(KNOWN)}

    def tail(z: float) -> float:
        return math.copysign(math.sqrt(2.0 * (math.hypot(z, 0.1) - 0.1)), z)

    assert at["share"] == pytest.approx(0.4 / 1.0) and at["zero"] == pytest.approx(30.0 / 50.0)
    assert at["log_tau"] == pytest.approx(0.5 / k.log_tau_sd) and at["convection"] == pytest.approx(0.2 / 0.4)
    assert at["drift"] == pytest.approx(tail(1e-6 / k.drift_sd)) and at["pressed"] == pytest.approx(tail(0.05 / 0.07))
    assert at["rubber"] == pytest.approx(tail(sign * 40.0 / 100.0))
    assert at["warmth"] == pytest.approx(k.warmth.at(float(x[LOG_TAU]), 0.004)[0])
    assert [at[f"creep_{n}"] for n in range(6)] == pytest.approx(
        [7.0 * (n + 1) / sd for n, sd in enumerate(k.creep_sd_pa)]
    )
    x[RUBBER], x[PRESSED], x[LOG_TAU] = -sign * 40.0, -0.05, k.log_tau - 0.5
    back = {NAMES[i]: float(row) for i, row in zip(KNOWN, model(x)[0][model.readings.time_s.size :], strict=True)}
    assert back["rubber"] == pytest.approx(tail(-sign * 40.0 / 20.0)) and back["pressed"] == pytest.approx(
        tail(-0.05 / 0.035)
    )
    assert back["log_tau"] == pytest.approx(-0.5 / 3.0)
    sds = dict(zip((NAMES[i] for i in KNOWN), model.prior_sd(x), strict=True))
    assert (sds["rubber"], sds["pressed"], sds["log_tau"], sds["share"]) == (20.0, 0.035, 3.0, 1.0)
    x[RUBBER] = x[PRESSED] = 0.0
    none = dict(zip((NAMES[i] for i in KNOWN), model.prior_sd(x), strict=True))
    assert (none["rubber"], none["pressed"]) == (100.0, 0.07)
    x[DRIFT] = 0.0
    rows, jacobian = model(x)
    assert rows[model.readings.time_s.size + list(KNOWN).index(DRIFT)] == 0.0 and np.isfinite(jacobian).all()


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_first_guess_of_a_leak_that_closes(sign: float) -> None:
    """Its speed through the first half of the fall, over the flow a quarter of the way down, above where it closes."""
    model = _model(sign)
    t, p = model.readings.time_s, sign * model.readings.pressure_pa
    fall = p[0] - p.min()
    half = int(np.flatnonzero(p <= p[0] - 0.5 * fall)[0])
    speed = (p[0] - p[half]) / (t[half] - t[0])
    for share in (0.0, 1.0):
        guess = model.start_closing(20e3, share)
        above = p[0] - 0.25 * fall - 20e3
        k, a = truth.geometry(1.0, share, AMBIENT, sign)
        inside = AMBIENT + sign * above
        viscous = abs(inside**2 - AMBIENT**2) / abs((AMBIENT + sign * 35e3) ** 2 - AMBIENT**2)
        if share == 1.0:
            assert guess[RATE] == pytest.approx(speed / viscous, rel=1e-6)
        assert guess[OPENING] == 20e3 and guess[SHARE] == share and guess[RATE] > speed and (k, a)
    low = model.start_closing(p[0], 1.0)  # next to nothing above it: as if 0.1 kPa were
    at = AMBIENT + sign * 100.0
    assert low[RATE] == pytest.approx(
        speed / (abs(at**2 - AMBIENT**2) / abs((AMBIENT + sign * 35e3) ** 2 - AMBIENT**2)), rel=1e-6
    )
    assert model.start_tight()[RATE] == 0.0 and model.start_tight()[START] == model.start()[START]


def test_guesses_use_what_is_above_a_fifth() -> None:
    """A fall to a tenth and a rest there: the exponential of the fall alone, tau = 5 s."""
    t = np.linspace(0.0, 60.0, 121)
    p = np.maximum(40e3 * np.exp(-t / 5.0), 2e3)
    model = HoldModel(prepare(t, p, 1.0, False), AMBIENT, False, 35e3, _model().priors)
    middle = 0.6 * 40e3 / 5.0
    at = AMBIENT + 0.6 * 40e3
    flow = (at**2 - AMBIENT**2) / ((AMBIENT + 35e3) ** 2 - AMBIENT**2)
    assert model.start(1.0)[RATE] == pytest.approx(middle / flow, rel=1e-3)
    sudden = HoldModel(
        prepare(np.array([0.0, 10.0, 20.0]), np.array([40e3, 4e3, 3e3]), 1.0, False),
        AMBIENT,
        False,
        35e3,
        _model().priors,
    )
    assert sudden.start(1.0)[RATE] == pytest.approx(0.6 * 40e3 * math.log(10.0) / 10.0 / flow, rel=1e-3)


def test_bounds_by_hand() -> None:
    model = _model()
    p = model.readings.pressure_pa
    low, high = model.bounds()
    assert high[RATE] == pytest.approx(50.0 * p[0]) and (low[SHARE], high[SHARE]) == (0.0, 1.0)
    assert (low[START], high[START]) == (0.02 * AMBIENT, 50.0 * AMBIENT)
    assert high[WARMTH] == pytest.approx(1.15 * ((1.0 + p[0] / AMBIENT) ** (0.4 / 1.4) - 1.0), rel=1e-6) == -low[WARMTH]
    assert np.exp([low[LOG_TAU], high[LOG_TAU]]) == pytest.approx([0.05, 300.0]) and high[ZERO] == 5000.0
    assert (
        high[DRIFT] == 1e-4
        and high[PRESSED] == pytest.approx(5.0 * 0.07)
        and (low[CONVECTION], high[CONVECTION]) == (0.0, 0.9)
    )
    assert np.all(high[RUBBER:] == 15e3) and high[OPENING] == high[GROWTH] == low[OPENING] == low[GROWTH] == 0.0
    assert model.bounds("opening")[1][OPENING] == pytest.approx(min(0.999 * p[-1], 0.97 * p[0]))
    low, high = model.bounds("growth")
    assert (low[GROWTH], high[GROWTH]) == pytest.approx((-1.0 / 60.0, 50.0 / 60.0))
    vacuum = _model(-1.0)
    assert vacuum.bounds("opening")[1][OPENING] == pytest.approx(0.999 * abs(vacuum.readings.pressure_pa[-1]))
    ends = 1.0 - abs(vacuum.readings.pressure_pa[0]) / AMBIENT
    assert vacuum.bounds()[1][WARMTH] == pytest.approx(1.15 * (1.0 - ends ** (0.4 / 1.4)), rel=1e-6)


def test_shapes_have_their_room() -> None:
    model = _model()
    assert model.in_shape("growth") is model and model.in_shape("opening") is model
    assert model.in_shape("creep").priors.creep_sd_pa == (450.0, 450.0, 450.0, 700.0, 700.0, 700.0)
    assert _model(-1.0).in_shape("creep").priors.creep_sd_pa[-1] == 3000.0
    assert model.in_shape("pressed").priors.pressed_sd == 1.5 and model.priors.pressed_sd == 0.07
    wider = model.with_sigma(3.0)
    assert wider.readings.sigma_pa == pytest.approx(3.0 * model.readings.sigma_pa) and wider is not model
    seen = model.at_times(np.linspace(0.0, 60.0, 7))
    assert seen.predict(model.start(0.6))[0][-1] == pytest.approx(model.predict(model.start(0.6))[0][-1], rel=1e-6)
    spectrum = HoldModel.creep(np.array([0.0, 3.0]))
    assert spectrum[0] == pytest.approx(np.ones(6)) and spectrum[1] == pytest.approx(
        np.exp(-3.0 / np.array([0.7, 1.5, 3, 6, 15, 40]))
    )
    settling = HoldModel._settling(np.array([0.0, 1.5]))
    assert settling[:, 0] == pytest.approx([0.0, -math.log(4.0)]) and settling.shape == (2, 7)


# ---------------------------------------------------------------- what is known beforehand


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_right_at_the_centre_the_likelier_side_counts(sign: float) -> None:
    prior = StartWarmth(np.full(33, 0.01), np.full(33, 0.003), np.full(33, 0.004), sign)
    assert prior.at(0.5, 0.01)[:2] == (0.0, pytest.approx(1.0 / 0.005)) and prior.deviation(0.5) == pytest.approx(0.005)
    less = prior.at(0.5, 0.01 - sign * 0.001)
    assert less[0] == pytest.approx(-sign * 0.001 / math.hypot(0.003, 0.3 * 0.004))


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_gas_that_was_filled_at_a_stroke(sign: float) -> None:
    """By the isentropic ratio of the pressures less what entered cold; a part of the warming unseen before the log."""
    t = np.linspace(-10.0, 0.0, 151)
    slow = start_warmth(t, AMBIENT + sign * 20e3 * np.clip(t + 10.0, 0.0, 1.0), 0.0, AMBIENT, sign)
    quick, late = float(_LOG_TAUS[0]), float(_LOG_TAUS[-1])
    assert slow.likeliest(quick) == pytest.approx(0.0, abs=1e-4) and slow.sign == sign
    assert sign * slow.likeliest(late) > 0.01 and np.all(slow.unseen == 0.0)
    assert slow.known == pytest.approx(np.hypot(0.3 * slow.centre, 0.0015))
    begun = start_warmth(np.array([0.0]), np.array([AMBIENT + sign * 40e3]), 0.0, AMBIENT, sign)
    first = abs((1.0 + sign * 40e3 / AMBIENT) ** (0.4 / 1.4) - 1.0)
    assert begun.unseen == pytest.approx(np.full(33, 0.4 * first)) and np.all(begun.centre == 0.0)
    waited = start_warmth(np.array([-6.0]), np.array([AMBIENT + sign * 40e3]), 0.0, AMBIENT, sign)
    assert waited.unseen == pytest.approx(0.4 * first * np.exp(-6.0 / np.exp(_LOG_TAUS)))
    other = start_warmth(np.array([0.0]), np.array([AMBIENT - sign * 40e3]), 0.0, AMBIENT, sign)
    assert np.all(other.unseen == 0.0)
    half = waited_warmth(sign * 40e3, AMBIENT, 6.0, sign, 0.5)
    assert half.unseen == pytest.approx(0.5 * waited.unseen) and waited_warmth(
        sign * 40e3, AMBIENT, 6.0, sign
    ).unseen == pytest.approx(waited.unseen)


def test_gas_that_stays_apart_from_its_walls() -> None:
    """tau of 300 s, filled in 1 s by cold air: T/T_w = r/(1 + (r - 1)/gamma) (a bottle filled from a main), to a step's error."""
    t = np.linspace(-1.0, 0.0, 101)
    p = AMBIENT + 40e3 * (t + 1.0)
    found = start_warmth(t, p, 0.0, AMBIENT, 1.0).likeliest(math.log(300.0))
    r = 1.0 + 40e3 / AMBIENT
    cold = r / (1.0 + (r - 1.0) / 1.4) - 1.0
    assert cold < found < r ** (0.4 / 1.4) - 1.0 + cold  # the pump's own compression warms it besides
    out = start_warmth(t, AMBIENT - 40e3 * (t + 1.0), 0.0, AMBIENT, -1.0).likeliest(math.log(300.0))
    assert out == pytest.approx(
        (1.0 - 40e3 / AMBIENT) ** (0.4 / 1.4) - 1.0, rel=0.02
    )  # what stays expands isentropically


def _used(**said: Any) -> Any:
    plain = {"barometer_pa": (1e5, "given"), "temperature_k": (293.0, "given"), "volume_m3": (2e-4, "given")} | said
    return SimpleNamespace(**{name: Quantity(*pair) for name, pair in plain.items()})


def _recording(pressure: Any = (40e3, 39e3, 38e3), **said: Any) -> Recording:
    column = said.pop("column", None)
    p = np.asarray(pressure, float)
    return Recording(np.arange(float(p.size)), p, column, conditions=Conditions("crankcase", **said), source="a.csv")


def test_what_goes_in_is_given_or_assumed() -> None:
    step = Quantity(10.0, "inferred")
    bare = inputs_of(_recording(), 0.61, step)
    assert (bare.barometer_pa, bare.temperature_k) == (Quantity(101325.0, "assumed"), Quantity(293.15, "assumed"))
    assert (
        bare.volume_m3 == Quantity(None, "none") == bare.volume_u_m3
        and bare.resolution_pa == step
        and bare.noise_pa == 0.0
    )
    full = inputs_of(_recording(barometer_pa=9e4, volume_m3=1e-4, by_settings=("volume_m3",)), 0.5, step)
    assert full.barometer_pa == Quantity(9e4, "given") and full.volume_m3 == Quantity(1e-4, "settings")
    assert full.discharge_coefficient.source == "given" and ambient_pa(full) == 9e4 and temperature_k(full) == 293.15
    warm = inputs_of(_recording(column=np.array([290.0, np.nan, 294.0])), 0.61, step)
    assert warm.temperature_k == Quantity(292.0, "measured")
    assert inputs_of(_recording(column=np.full(3, np.nan)), 0.61, step).temperature_k.source == "assumed"
    with pytest.raises(UsageError, match="a.csv: a reading of -91.0 kPa is below a vacuum at 90.0 kPa"):
        inputs_of(_recording([-91e3, -40e3], barometer_pa=9e4), 0.61, step)
    with pytest.raises(UsageError, match="below a vacuum"):
        inputs_of(_recording([-9e4, -40e3], barometer_pa=9e4), 0.61, step)
    with pytest.raises(UsageError, match="a resolution of 21 kPa is coarser than half of the highest reading"):
        inputs_of(_recording(resolution_pa=21e3), 0.61, step)
    assert inputs_of(_recording(resolution_pa=20e3), 0.61, step) and inputs_of(
        _recording([0.0, 0.0], resolution_pa=20e3), 0.61, step
    )


def _window(drift: float | None, source: str = "measured", phases: int = 2, closed_s: float = 0.0) -> Any:
    ends = ((-20.0, -10.0), (70.0, 90.0))[:phases]
    zero = Zero(5.0, 20.0, source, drift)  # type: ignore[arg-type]
    return SimpleNamespace(zero=zero, phases=tuple(Phase("zero", *pair) for pair in ends), closed_s=closed_s)


def test_a_zero_that_moved() -> None:
    """900 Pa between the middles of both zeros, -15 and 80 s; noted on a sheet, over the whole of it."""
    assert _zero_speed_pa_s(_window(900.0)) == pytest.approx(900.0 / 95.0)
    assert _zero_speed_pa_s(_window(900.0, "given")) == pytest.approx(900.0 / 110.0)
    assert _zero_speed_pa_s(_window(900.0, "given", 1)) == pytest.approx(900.0 / 10.0)
    assert (
        _zero_speed_pa_s(_window(900.0, phases=1))
        == 0.0
        == _zero_speed_pa_s(_window(None))
        == _zero_speed_pa_s(_window(99.0))
    )
    assert _zero_speed_pa_s(_window(-100.0)) == pytest.approx(-100.0 / 95.0)
    several = _window(900.0)
    several.phases = (several.phases[0], Phase("hold", 0.0, 60.0), several.phases[1])
    assert _zero_speed_pa_s(several) == pytest.approx(900.0 / 95.0)
    said = _recording()
    steady = zero_corrected(said, _window(900.0))
    assert steady.pressure_pa - said.pressure_pa == pytest.approx(-900.0 / 95.0 * (said.time_s - 35.0))
    assert zero_corrected(said, _window(None)) is said


def test_priors_of_a_sheet() -> None:
    """A third of a measured drift is doubted; where none was read 70 Pa a minute; over the absolute pressure."""
    said = _recording([40e3, 39e3, 38e3], waited_s=20.0, topped_up=True)
    found = priors_of(said, _window(None), _used())
    walls = 0.45 / 60.0 / 293.15
    assert found.drift_sd == pytest.approx(math.hypot(walls, 70.0 / 60.0 / 140e3))
    assert priors_of(said, _window(900.0), _used()).drift_sd == pytest.approx(
        math.hypot(walls, 0.3 * 900.0 / 95.0 / 140e3)
    )
    later = priors_of(said, _window(None), _used(), closed_s=2.0)
    assert later.drift_sd == pytest.approx(math.hypot(walls, 70.0 / 60.0 / 138e3))
    watched = priors_of(said, _window(None), _used(temperature_k=(293.0, "measured")))
    assert watched.drift_sd == pytest.approx(math.hypot(walls / 9.0, 70.0 / 60.0 / 140e3))
    assert (found.zero_pa, found.zero_sd_pa) == (5.0, 20.0) and found.log_tau == pytest.approx(math.log(1.5))
    topped = waited_warmth(40e3 - 5.0, 1e5, 0.5 * 20.0, 1.0, 0.4)
    assert found.warmth.unseen == pytest.approx(topped.unseen)
    alone = priors_of(_recording([40e3, 39e3]), _window(None, "assumed"), _used())
    assert alone.warmth.unseen == pytest.approx(waited_warmth(40e3, 1e5, 0.0, 1.0).unseen)


def test_pressures_at_one_temperature() -> None:
    """p T0/T, absolute: 2 K in 294 are 0.68 % of 140 kPa."""
    used = _used()
    t = np.arange(8.0)
    walls = 292.0 + 2.0 * t / 7.0
    said = _recording(np.full(8, 40e3), column=walls)
    found, moved = temperature_corrected(said, used)
    assert moved == pytest.approx(2.0) and found.pressure_pa == pytest.approx(140e3 * 292.0 / walls - 1e5)
    assert temperature_corrected(_recording(), used)[1] is None
    two = _recording(np.full(4, 40e3), column=np.array([292.0, np.nan, np.nan, 293.0]))
    assert temperature_corrected(two, used) == (two, None)
    bent = 292.0 + 0.1 * t**2
    assert temperature_corrected(_recording(np.full(8, 40e3), column=bent), used)[1] == pytest.approx(
        float(np.ptp(bent))
    )
    few = np.array([292.0, 293.0, 292.5, 294.0, 293.0])
    line = np.polyval(np.polyfit(np.arange(5.0), few, 1), np.arange(5.0))
    assert temperature_corrected(_recording(np.full(5, 40e3), column=few), used)[1] == pytest.approx(
        float(np.ptp(line))
    )


# ---------------------------------------------------------------- sizes


def _estimate(rate: Interval, share: Interval, detection: float, opening: float | None = None) -> SizedLeak:
    estimate = LeakEstimate(35e3, rate.value is not None, rate, detection, None, None, None, share, opening)
    model = SimpleNamespace(ambient_pa=AMBIENT, inward=False)
    return SizedLeak(estimate, SimpleNamespace(model=model), (np.array([detection]),), True)  # type: ignore[arg-type]


def test_one_size_from_several_shapes() -> None:
    """The first one's value, both intervals: half and half, so 2.5 % of the mixture is 5 % of the lower one."""
    one = _estimate(Interval(100.0, 98.0, 102.0), Interval(0.5, 0.4, 0.6), 1.0, 5e3)
    other = _estimate(Interval(200.0, 196.0, 204.0), Interval(0.9, 0.8, 1.0), 9.0)
    vessel = Vessel(2e-4, 2e-5, 293.15, 0.61)
    assert mixed_leak([(1.0, one)], vessel, 35e3) is one
    both = mixed_leak([(0.5, one), (0.5, other)], vessel, 35e3)
    found = both.estimate
    assert found.rate_pa_s.value == 100.0
    assert found.rate_pa_s.low == pytest.approx(100.0 - 2.0 / Z * stats.norm.ppf(0.95), abs=0.01)
    assert found.rate_pa_s.high == pytest.approx(200.0 + 4.0 / Z * stats.norm.ppf(0.95), abs=0.01)
    assert found.detection_rate_pa_s == 9.0 and found.detection_pa_m3_s == pytest.approx(9.0 * 2e-4)
    assert (
        found.throughput_pa_m3_s.value == pytest.approx(0.02) and found.hole_m is not None and found.opening_pa == 5e3
    )
    assert found.viscous_share.value == 0.5 and found.viscous_share.high > 0.9 and len(both.plausible) == 2
    rare = mixed_leak([(0.95, one), (0.05, other)], Vessel(None, None, 293.15, 0.61), 35e3).estimate
    assert (
        rare.detection_rate_pa_s == 1.0
        and rare.throughput_pa_m3_s is None is rare.hole_m
        and rare.detection_pa_m3_s is None
    )
    tight = _estimate(Interval(None, 0.0, 4.0), Interval(None, 0.0, 1.0), 2.0)
    unseen = mixed_leak([(0.6, one), (0.4, tight)], vessel, 35e3).estimate
    assert not unseen.detected and unseen.viscous_share == Interval(None, 0.0, 1.0) and unseen.opening_pa is None


def test_holes_of_a_throughput() -> None:
    """By the inverse: diameters go with the root of the flow, under vacuum through thinner air."""
    vessel = Vessel(2e-4, 2e-5, 293.15, 0.61)
    flow = Interval(0.02, 0.005, 0.08)
    out, into = (
        _hole(flow, SimpleNamespace(model=SimpleNamespace(ambient_pa=AMBIENT, inward=way)), 35e3, vessel)
        for way in (False, True)
    )
    assert (
        out.value == pytest.approx(2.0 * out.low)
        and out.high == pytest.approx(2.0 * out.value)
        and into.value > out.value
    )
    bound = _hole(
        Interval(None, 0.0, 0.08),
        SimpleNamespace(model=SimpleNamespace(ambient_pa=AMBIENT, inward=False)),
        35e3,
        vessel,
    )
    assert bound.value is None and bound.low == 0.0 and bound.high == out.high
    best, low, high = np.zeros(1), np.ones(1), np.full(1, 2.0)
    ends = Profile(0.0, 1.0, low, high, True)
    assert [float(x[0]) for x in _plausible(best, ends, ends)] == [0.0, 1.0, 2.0, 1.0, 2.0]


def test_a_better_valley_starts_the_fit_again(monkeypatch: pytest.MonkeyPatch) -> None:
    good = Profile(1.0, 2.0, np.zeros(1), np.zeros(1), True)
    calls: list[int] = []
    better = [np.full(1, 7.0), None, None, None]

    def profile(index: int, closely: bool = True) -> Profile:
        calls.append(index)
        return replace(good, better=better[len(calls) - 1]) if closely else good

    found = SimpleNamespace(profile=profile, model="m", lower=0, upper=1)
    monkeypatch.setattr(leak_room, "refit", lambda model, start, low, high: ("refit", float(start[0])))
    monkeypatch.setattr(leak_room, "replace", lambda one, fit: SimpleNamespace(**(vars(one) | {"fit": fit})))
    again, rate, share = _profiled(found, True)  # type: ignore[arg-type]
    assert again.fit == ("refit", 7.0) and calls == [RATE, RATE, SHARE] and rate.better is None is share.better
    calls.clear()
    better = [np.full(1, 7.0), np.full(1, 8.0), None, None]
    twice, *_ = _profiled(found, True)  # type: ignore[arg-type]
    assert twice.fit == ("refit", 8.0) and calls == [RATE, RATE, RATE, SHARE]
    calls.clear()
    assert _profiled(found, False)[0] is found and calls == [RATE, SHARE]  # type: ignore[arg-type]


# ---------------------------------------------------------------- evidence, scatter, shapes


@pytest.mark.parametrize(("at", "low", "high"), [(0.0, -5.0, 5.0), (0.0, -0.5, 5.0), (1.0, -5.0, 1.2)])
def test_the_volume_is_that_of_a_normal_density_cut_off(at: float, low: float, high: float) -> None:
    """sd 0.5: sqrt(2 pi) sd times the part of the density inside the box (scipy)."""
    found = log_volume(np.zeros(1), np.array([[2.0]]), np.array([at]), np.array([low]), np.array([high]))
    inside = stats.norm.cdf((high - at) / 0.5) - stats.norm.cdf((low - at) / 0.5)
    assert found == pytest.approx(math.log(math.sqrt(2.0 * math.pi) * 0.5 * inside), abs=0.08)


@pytest.mark.parametrize("width", [1.0, 10.0, 0.2])
def test_the_volume_beside_a_bound(width: float) -> None:
    """At its lower bound, pushed there by chi2/2 = 2x + 2x^2: the integral over the box (quadrature by scipy)."""
    exact, _ = quad(lambda x: math.exp(-2.0 * x - 2.0 * x * x), 0.0, width)
    found = log_volume(np.array([1.0]), np.array([[2.0]]), np.zeros(1), np.zeros(1), np.array([width]))
    assert found == pytest.approx(math.log(exact), abs=1e-3)
    other = log_volume(np.array([-1.0]), np.array([[2.0]]), np.array([width]), np.zeros(1), np.array([width]))
    assert other == pytest.approx(found)


def test_a_ratio_by_equal_flow(monkeypatch: pytest.MonkeyPatch) -> None:
    """ln(6/3) less what one fixed hole of half and half would give there; half of the laws' span as 95 %."""

    class Fixed:
        def __init__(self, parts: Any) -> None:
            pass

        def start(self) -> np.ndarray:
            return np.full(4, 9.0)

        def local(self, z: np.ndarray, index: int) -> tuple[np.ndarray, None]:
            x = np.zeros(3)
            x[RATE] = z[BASE_RATE] * math.exp(z[LOG_RATIO] + index * 0.4 * z[BASE_SHARE])
            return x, None

    rates = {"first": (math.log(3.0), 0.01), "second": (math.log(6.0), 0.02), "none": None}
    monkeypatch.setattr(ratio_room, "Joint", Fixed)
    monkeypatch.setattr(ratio_room, "_log_rate", lambda part: rates[part.found])
    parts = [JointHold("first", False), JointHold("second", True)]  # type: ignore[arg-type]
    found = ratio_room._by_equal_flow(parts)
    half = Z * math.hypot(0.01, math.hypot(0.02, 0.2 / Z))
    assert found is not None and found.value == pytest.approx(2.0 * math.exp(-0.2))
    assert (found.low, found.high) == pytest.approx((found.value * math.exp(-half), found.value * math.exp(half)))
    assert ratio_room._by_equal_flow([*parts, JointHold("none", True)]) is None  # type: ignore[arg-type]


def _found(residuals: Any, misfit: float = 1.0, dof: float = 50.0, inflation: float = 1.0, **more: Any) -> Any:
    r = np.asarray(residuals, float)
    n = more.pop("n", r.size)
    readings = SimpleNamespace(
        time_s=np.arange(float(n)), sigma_pa=np.ones(n), pressure_pa=np.full(n, 40e3), noise_pa=more.pop("noise", 1.0)
    )
    return SimpleNamespace(
        model=SimpleNamespace(readings=readings, sign=1.0), misfit=misfit, dof=dof, inflation=inflation, on_priors=more.pop("on_priors", 0.0),
        fit=SimpleNamespace(residuals=r, parameters=np.arange(20.0), **more), cost=misfit * dof,
    )  # fmt: skip


def test_how_far_readings_scatter() -> None:
    assert scatter_of(_found([1.0, -1.0] * 10, 0.4)) == 1.0 and scatter_of(_found([1.0, -1.0] * 10, 3.0)) == 3.0
    slow = np.repeat([1.0, -1.0] * 5, 6)
    widening = correlation_widening(slow)
    assert widening > 2.0 and scatter_of(_found(slow, 3.0)) == pytest.approx(3.0 * widening)
    lag = float(slow[1:] @ slow[:-1]) / float(slow @ slow)
    assert widening == pytest.approx((1.0 + lag) / (1.0 - lag))
    assert correlation_widening(slow[:29]) == 1.0 and correlation_widening(np.zeros(40)) == 1.0
    alternating = np.array([1.0, -1.0] * 30)
    assert correlation_widening(alternating) == 1.0
    jump = Jump(9.0, 100.0, 10.0, 5.0, np.full(20, 2.0))
    assert scatter_after(jump, _found([0.0], dof=22.0)) == pytest.approx(4.0)
    assert scatter_after(replace(jump, leftover=np.full(20, 0.1)), _found([0.0], dof=22.0)) == 1.0
    assert scatter_after(jump, _found([0.0], dof=1.0)) == pytest.approx(80.0)


def test_readings_and_what_they_determined() -> None:
    """Two numbers from twenty readings leave 18; each residual of 2 is a reduced chi2 of 80/18."""
    jac = np.column_stack((np.ones(20), np.arange(20.0)))
    model = SimpleNamespace(readings=SimpleNamespace(time_s=np.arange(20.0)))
    fit = SimpleNamespace(residuals=np.tile([2.0, -2.0], 10), jacobian=jac, parameters=np.zeros(2))
    wide = np.full(2, -9.0), np.full(2, 9.0)
    assert misfit_of(model, fit, *wide) == (pytest.approx(80.0 / 18.0), 1.0, pytest.approx(18.0))  # type: ignore[arg-type]
    held = np.zeros(2), np.zeros(2)
    assert misfit_of(model, fit, *held) == (1.0, 1.0, 20.0)  # type: ignore[arg-type]
    few = SimpleNamespace(residuals=np.ones(2), jacobian=jac[:2], parameters=np.zeros(2))
    two = SimpleNamespace(readings=SimpleNamespace(time_s=np.arange(2.0)))
    assert misfit_of(two, few, *wide)[:2] == (1.0, 1.0)  # type: ignore[arg-type]


def test_posterior_odds_by_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Prior times evidence: 0.84 e^0 against 0.04 e^3; a jump by its score, its size and how many there could be."""
    assert prior_of("plain") == pytest.approx(0.84) and prior_of("step") == 0.02 and prior_of("growth") == 0.02
    evidence = {"plain": 0.0, "opening": 3.0}
    fits: Any = {shape: _found([1.0, -1.0] * 10) for shape in evidence}
    monkeypatch.setattr(rivals, "log_evidence", lambda fit, scatter: evidence[next(s for s in fits if fits[s] is fit)])
    found = weights_of(fits, None)
    odds = 0.04 * math.exp(3.0) / 0.84
    assert found["opening"] == pytest.approx(odds / (1.0 + odds)) and sum(found.values()) == pytest.approx(1.0)
    jump = Jump(16.0, 100.0, 10.0, 5.0, np.tile([0.5, -0.5], 10))
    step = weights_of(fits, jump)
    by_hand = 0.02 * math.exp(8.0) * 10.0 / 1000.0 / 20.0
    assert step["step"] / step["plain"] == pytest.approx(by_hand / 0.84)


def test_a_fit_far_from_its_readings_is_not_trusted() -> None:
    """Away by more than 1 % of 40 kPa, and more than 25 times as far as they scatter."""
    far = [500.0, -500.0] * 10
    assert _leaves_the_readings(_found(far, 26.0)) and not _leaves_the_readings(_found(far, 24.0))
    assert not _leaves_the_readings(_found([390.0, -390.0] * 10, 26.0)) and _leaves_the_readings(
        _found([410.0, -410.0] * 10, 26.0)
    )
    assert not _leaves_the_readings(_found(far, 26.0, noise=0.0))
    assert _named("plain", _found(far)) is None and _named("creep", _found(far)).size == 0.0  # type: ignore[union-attr]
    growth = _named("growth", _found(far))
    assert growth is not None and (growth.name, growth.size, growth.time_s) == ("growth", float(GROWTH), 0.0)


def test_climbs() -> None:
    """Last over first, in their deviations; and the slope of the last half by a weighted line."""

    def ends(first: float, last: float, sign: float = 1.0) -> float:
        readings = SimpleNamespace(
            pressure_pa=sign * np.array([first, 0.0, last]), sigma_pa=np.array([30.0, 1.0, 40.0])
        )
        return _climb_of_ends(SimpleNamespace(sign=sign, readings=readings))  # type: ignore[arg-type]

    assert ends(10e3, 11e3) == pytest.approx(1000.0 / 50.0) == ends(10e3, 11e3, -1.0)
    assert ends(10e3, 10.1e3) == 0.0 == ends(10e3, 9e3) and ends(10e3, 10.3e3) == pytest.approx(6.0)

    def last(slope: float, sign: float = 1.0, count: int = 61, scatter: float = 0.0) -> float:
        t = np.linspace(0.0, 60.0, count)
        p = sign * (
            10e3
            - 50.0 * np.minimum(t, 30.0)
            + slope * np.maximum(t - 30.0, 0.0)
            + scatter * np.where(np.arange(count) % 2, 1.0, -1.0)
        )
        readings = SimpleNamespace(time_s=t, pressure_pa=p, sigma_pa=np.full(count, 10.0))
        return _climb_at_last(SimpleNamespace(model=SimpleNamespace(readings=readings, sign=sign)))  # type: ignore[arg-type]

    t = np.arange(30.0, 61.0)
    by_hand = 3.0 * math.sqrt(float(np.sum((t - t.mean()) ** 2))) / 10.0
    assert last(3.0) == pytest.approx(by_hand) == last(3.0, -1.0) and last(1.9) == 0.0 and last(-3.0) == 0.0
    noisy = last(3.0, scatter=40.0)
    assert noisy == pytest.approx(by_hand / 4.0, rel=0.05) and last(3.0, count=4) == 0.0


def test_two_views_of_the_same_readings(monkeypatch: pytest.MonkeyPatch) -> None:
    """As likely as they fit: 2 ln 3 behind in chi2 is a third as likely."""
    sized = _estimate(Interval(100.0, 98.0, 102.0), Interval(0.5, 0.4, 0.6), 1.0)
    monkeypatch.setattr(choosing, "mixed_leak", lambda parts, vessel, quote: [weight for weight, _ in parts])
    mine = ChosenFit(_found([1.0, -1.0] * 10, 1.0, 50.0), None, 0.0, sized, (Weighed(1.0, "plain", sized),))
    other = replace(mine, found=_found([1.0, -1.0] * 10, 1.0, 50.0 + 2.0 * math.log(3.0)))
    found = widened_by(mine, other, Vessel(None, None, 293.0, 0.6), 35e3)
    assert found.sized == pytest.approx([0.75, 0.25]) and [one.weight for one in found.alike] == pytest.approx(
        [0.75, 0.25]
    )
    better = widened_by(other, mine, Vessel(None, None, 293.0, 0.6), 35e3)
    assert better.sized == pytest.approx([0.5, 0.5])
    hopeless = replace(mine, found=_found([1.0, -1.0] * 10, 1.0, 150.0))
    assert widened_by(mine, hopeless, Vessel(None, None, 293.0, 0.6), 35e3).sized == [1.0]
    assert widened_by(replace(mine, sized=None), mine, Vessel(None, None, 293.0, 0.6), 35e3).sized is None
    assert widened_by(mine, replace(mine, sized=None), Vessel(None, None, 293.0, 0.6), 35e3) is mine


def test_the_score_of_a_direction() -> None:
    """Off what the basis explains: (u.r)^2/(u.u), and the step that would take it."""
    basis = np.array([[1.0], [0.0], [0.0]])
    assert _scored(np.array([5.0, 2.0, 0.0]), np.array([9.0, -3.0, 1.0]), basis) == (
        pytest.approx(9.0),
        pytest.approx(1.5),
    )
    assert _scored(np.array([5.0, 0.0, 0.0]), np.array([9.0, -3.0, 1.0]), basis) == (0.0, 0.0)


def _plain_fit(jump: float = 0.0, at_s: float = 30.0, count: int = 61, noise: float = 10.0) -> HoldFit:
    model = _model(1.0, count, noise)
    p = model.readings.pressure_pa + jump * (model.readings.time_s >= at_s)
    model.readings = replace(model.readings, pressure_pa=p)
    return searching.search(model)


def test_a_jump_is_found_where_it_is() -> None:
    found = biggest_jump(_plain_fit(150.0))
    assert (
        found is not None
        and found.time_s == pytest.approx(30.0, abs=1.01)
        and found.size_pa == pytest.approx(150.0, abs=60.0)
    )
    assert found.score == pytest.approx((found.size_pa / found.sd_pa) ** 2) and found.leftover.size == 61
    assert not worth_a_look(_plain_fit()) and worth_a_look(_plain_fit(400.0))
    few = replace_readings(_plain_fit(), 5)
    assert biggest_jump(few) is None and not worth_a_look(few)


def replace_readings(found: HoldFit, count: int) -> Any:
    readings = SimpleNamespace(time_s=np.arange(float(count)))
    return SimpleNamespace(model=SimpleNamespace(readings=readings), fit=found.fit)


# ---------------------------------------------------------------- intervals and ratios


def _line(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return (x - 3.0) / 0.5, np.array([[2.0]])


def _searching(goal: float = math.sqrt(CHI2_95)) -> _Search:
    wide = np.full(1, -1e3), np.full(1, 1e3)
    return _Search(_line, least_squares(_line, np.zeros(1), *wide), 0, *wide, goal)


def test_where_the_rise_should_cross() -> None:
    """Beyond the outermost by proportion, at least by 5 %; half-way to a wall; in between by what both ends say."""
    search = _searching(2.0)
    assert search._between((3.0, 0.0), (9.0, math.inf), 3.0) == 6.0
    assert search._between((4.0, 1.0), (9.0, math.inf), 3.0) == pytest.approx(5.0)
    assert search._between((4.0, 1.99), (9.0, math.inf), 3.0) == pytest.approx(3.0 + 1.05)
    assert search._between((4.0, 0.1), (9.0, math.inf), 3.0) == pytest.approx(3.0 + 4.0)
    assert search._between((4.0, 1.0), (6.0, 3.0), 3.0) == pytest.approx(5.0)
    assert search._between((4.0, 1.0), (6.0, 99.0), 3.0) == pytest.approx(4.0 + 2.0 / 3.0)
    assert search._between((4.0, 1.999), (6.0, 3.0), 3.0) == pytest.approx(4.0 + 0.08 * 2.0)
    assert search._between((4.0, 0.0), (6.0, 2.01), 3.0) == pytest.approx(4.0 + 0.92 * 2.0)


def test_the_root_of_a_rise() -> None:
    search = _searching()
    for value in (4.0, 2.0, 3.0):
        root, fit = search._root_of_rise(value, search.best)
        assert root == pytest.approx(abs(value - 3.0) / 0.5, abs=1e-6) and fit.parameters[0] == value
    assert search.end(1.0).value == pytest.approx(3.0 + 0.5 * Z, rel=1e-3) and search.end(-1.0).found

    wall = replace(search, upper=np.full(1, 3.0 + 0.95 * 0.5 * Z))
    assert wall.end(1.0).value == wall.upper[0] and wall.end(1.0).found  # never beyond it

    def nowhere(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        if x[0] > 3.2:
            raise ArithmeticError
        return _line(x)

    blind = replace(search, function=nowhere)
    root, fit = blind._root_of_rise(4.0, search.best)
    assert root == math.inf and fit is search.best
    step = _first_step(search.best, 0, np.full(1, -1e3), np.full(1, 1e3), 4.0)
    assert step == pytest.approx(2.0 * 0.5)


def test_means_of_repeats_and_rates() -> None:
    """Weights 1/u^2; no surer than they scatter."""
    assert _mean([(1.0, 0.1), (2.0, 0.2)]) == (pytest.approx(1.2), pytest.approx(0.5))
    assert _mean([(1.0, 0.1)]) == (1.0, pytest.approx(0.1)) and _mean([(1.0, 0.3), (1.0, 0.4)])[1] == pytest.approx(
        0.24
    )

    def part(rate: float, low: float, high: float, complete: bool = True) -> Any:
        ends = Profile(low, high, np.zeros(1), np.zeros(1), complete)
        found = SimpleNamespace(fit=SimpleNamespace(parameters=np.array([rate])), profile=lambda index: ends)
        return SimpleNamespace(found=found)

    assert _log_rate(part(100.0, 80.0, 125.0)) == (
        pytest.approx(math.log(100.0)),
        pytest.approx(math.log(125.0 / 80.0) / 2.0 / Z),
    )
    assert _log_rate(part(0.0, 80.0, 125.0)) is None is _log_rate(part(100.0, 0.0, 125.0))
    assert _log_rate(part(100.0, 80.0, 125.0, False)) is None


def test_the_familiar_exponential() -> None:
    t = np.arange(0.0, 50.0, 5.0)
    size = 40e3 * np.exp(-t / 20.0)
    even = np.ones(t.size)
    assert time_constant_s(t + 7.0, size, even) == pytest.approx(20.0)
    assert time_constant_s(t, size[::-1], even) is None and time_constant_s(t, np.full(t.size, 5.0), even) is None
    assert time_constant_s(t[:1], size[:1], even[:1]) is None and time_constant_s(t, -size, even) is None
    dropped = np.where(t < 5.0, 40e3, 1e3)
    assert time_constant_s(t, dropped, even) is None


@pytest.mark.parametrize("odd", ["", "opening", "growth"])
def test_the_evidence_of_a_fit(monkeypatch: pytest.MonkeyPatch, odd: str) -> None:
    """-chi2/2, the priors of size, opening and growth (a normal density of 5 in a hold), the others' widths."""
    monkeypatch.setattr(
        rivals, "log_volume", lambda residuals, jacobian, x, lower, upper: float(residuals[0] + 10.0 * jacobian[0, 0])
    )
    x, upper = np.zeros(len(NAMES)), np.zeros(len(NAMES))
    x[RATE] = 100.0
    upper[OPENING], upper[GROWTH] = (20e3 if odd == "opening" else 0.0), (1.0 if odd == "growth" else 0.0)
    x[GROWTH] = 0.05 if odd == "growth" else 0.0
    readings = SimpleNamespace(time_s=np.linspace(0.0, 60.0, 4))
    found: Any = SimpleNamespace(
        model=SimpleNamespace(readings=readings, prior_sd=lambda at: np.array([2.0, 3.0])), inflation=4.0, misfit=2.0, dof=3.0, on_priors=5.0,
        fit=SimpleNamespace(parameters=x, residuals=np.full(6, 0.5), jacobian=np.full((6, 2), 0.1)), lower=None, upper=upper,
    )  # fmt: skip
    weight = 2.0 / math.sqrt(2.0)
    wanted = -0.5 * (2.0 * 3.0 / 2.0 + 5.0) - math.log(120.0) - math.log(6.0) + weight * (0.5 + 1.0)
    wanted -= math.log(20e3) if odd == "opening" else 0.0
    wanted += math.log(60.0 * stats.norm.pdf(0.05 * 60.0, scale=5.0)) if odd == "growth" else 0.0
    assert rivals.log_evidence(found, 2.0) == pytest.approx(wanted)


def test_the_estimate_of_one_fit(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the profiles say, put together: a lower end of nought is no leak seen; odd shapes' own numbers only where they are."""
    x = np.zeros(len(NAMES))
    x[RATE], x[SHARE] = 100.0, 0.3
    ends = {"rate": (90.0, 112.0), "complete": True}

    def profile(low: float, high: float) -> Profile:
        return Profile(low, high, np.full(1, low), np.full(1, high), bool(ends["complete"]))

    found: Any = SimpleNamespace(
        model=SimpleNamespace(sign=-1.0, ambient_pa=AMBIENT, inward=True), fit=SimpleNamespace(parameters=x, converged=True),
        profile=lambda index, closely: profile(1.0, 2.0),
    )  # fmt: skip
    monkeypatch.setattr(leak_room, "_profiled", lambda one, closely: (one, profile(*ends["rate"]), profile(0.2, 0.5)))
    monkeypatch.setattr(leak_room, "_sd_when_tight", lambda one: 2.0)
    vessel = Vessel(2e-4, None, 293.15, 0.61)
    sized = leak_room.size(found, 35e3, vessel)
    leak = sized.estimate
    assert leak.at_pa == -35e3 and leak.detected and leak.rate_pa_s == Interval(100.0, 90.0, 112.0) and sized.complete
    assert leak.viscous_share == Interval(0.3, 0.2, 0.5) and leak.opening_pa is None is leak.growth_per_min
    assert leak.detection_rate_pa_s == pytest.approx((Z + 1.6448536269514722) * 2.0) and len(sized.plausible) == 5
    assert leak.detection_pa_m3_s == pytest.approx(
        leak.detection_rate_pa_s * 2e-4
    ) and leak.throughput_pa_m3_s.value == pytest.approx(0.02)
    bare = leak_room.size(found, 35e3, Vessel(None, None, 293.15, 0.61)).estimate
    assert bare.throughput_pa_m3_s is None is bare.hole_m and bare.detection_pa_m3_s is None
    ends["rate"] = (0.0, 9.0)
    unseen = leak_room.size(found, 35e3, vessel).estimate
    assert (
        not unseen.detected
        and unseen.rate_pa_s == Interval(None, 0.0, 9.0)
        and unseen.viscous_share == Interval(None, 0.0, 1.0)
    )
    ends |= {"rate": (-3.0, 9.0), "complete": False}
    open_ended = leak_room.size(found, 35e3, vessel)
    assert open_ended.estimate.rate_pa_s.low == 0.0 and not open_ended.complete
    ends |= {"rate": (90.0, 112.0), "complete": True}
    x[GROWTH] = -0.01
    assert leak_room.size(found, 35e3, vessel).estimate.growth_per_min == pytest.approx(-0.6)
    x[GROWTH], x[OPENING] = 0.0, 5e3
    monkeypatch.setattr(
        leak_room,
        "_when_closing",
        lambda one, plausible, quote, seen, detection: Interval(50.0 if seen else None, float(len(plausible)), 60.0),
    )
    closing = leak_room.size(found, 35e3, vessel)
    assert closing.estimate.opening_pa == -5e3 and closing.estimate.rate_pa_s == Interval(50.0, 7.0, 60.0)
    found.fit.converged = False
    assert not leak_room.size(found, 35e3, vessel).complete
