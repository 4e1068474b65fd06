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

from leakdown.analysis import LeakEstimate, Phase, Quantity, Zero
from leakdown.errors import UsageError
from leakdown.fit import leak as leak_room
from leakdown.fit.inputs import (
    _zero_speed_pa_s,
    ambient_pa,
    inputs_of,
    priors_of,
    temperature_corrected,
    temperature_k,
    zero_corrected,
)
from leakdown.fit.interval import Profile
from leakdown.fit.leak import SizedLeak, Vessel, _hole, _plausible, _profiled, mixed_leak
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
