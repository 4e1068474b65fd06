"""The hold model function by function, written a second time: by hand, with the tests' own flow laws, and by scipy."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

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
from leakdown.fit.priors import _LOG_TAUS, StartWarmth, _between, _thinned, priors_for, start_warmth
from leakdown.hold.readings import Readings
from leakdown.physics.balance import NotSolved
from leakdown.physics.leak import Leak
from tests.fit import truth

RELAXATIONS_S = np.array([0.7, 1.5, 3.0, 6.0, 15.0, 40.0])  # the spectrum that the model's docstring promises


def hold(t: Any, p: Any, ambient: float, sign: float, quote_pa: float = 35e3, zero_pa: float = 0.0) -> HoldModel:
    """The problem of these readings, not binned, of 10 Pa each."""
    t, p = np.asarray(t, float), np.asarray(p, float)
    warmth = StartWarmth(0.004 * np.sin(_LOG_TAUS), np.full(33, 3e-3), np.full(33, 1e-3), sign)
    readings = Readings(t, p, np.full(t.size, 10.0), np.ones(t.size), 10.0, 0.0)
    return HoldModel(readings, ambient, sign < 0, quote_pa, priors_for(zero_pa, 50.0, warmth, 250e-6))


def holds(seed: int, count: int) -> list[tuple[np.random.Generator, HoldModel]]:
    """Random holds of both signs, exponentials with an offset of the gauge."""
    made = []
    for k in range(count):
        rng = np.random.default_rng([seed, k])
        sign, ambient = (1.0, -1.0)[k % 2], rng.uniform(70e3, 103e3)
        t = np.sort(np.append(rng.uniform(0.5, 59.0, 8), [0.0, 60.0]))
        zero = rng.uniform(-300.0, 300.0)
        p = sign * rng.uniform(10e3, 45e3) * np.exp(-t / np.exp(rng.uniform(2.5, 6.0))) + zero
        made.append((rng, hold(t, p, ambient, sign, rng.uniform(10e3, 45e3), zero)))
    return made


def relative(model: HoldModel, gauge_pa: float, share: float) -> float:
    """Flow at a gauge magnitude over that at the quoted pressure, by the tests' own laws."""
    at, quote = (model.ambient_pa + model.sign * size for size in (gauge_pa, model.quote_pa))
    flows = [
        truth.throughput(at, model.ambient_pa, *law) / truth.throughput(quote, model.ambient_pa, *law)
        for law in ((1.0, 0.0), (0.0, 1.0))
    ]
    return share * flows[0] + (1.0 - share) * flows[1]


def test_the_leak_of_a_vector() -> None:
    """Its geometry loses the sought rate at the quoted pressure, its gap counted from no pressure."""
    for rng, model in holds(1, 20):
        x = rng.uniform(0.1, 0.9, len(NAMES))
        x[RATE], x[START], x[OPENING] = rng.uniform(1.0, 500.0), 1.3e5, rng.uniform(0.0, 8e3)
        made = model.leak(x)
        quote = model.ambient_pa + model.sign * model.quote_pa
        weep, hole = (abs(truth.throughput(quote, model.ambient_pa, *law)) for law in ((1.0, 0.0), (0.0, 1.0)))
        assert made.viscous * weep * math.exp(x[PRESSED]) == pytest.approx(x[RATE] * x[SHARE])
        assert made.orifice * hole * math.exp(x[PRESSED]) == pytest.approx(x[RATE] * (1.0 - x[SHARE]), rel=1e-6)
        assert made.back == pytest.approx(model.ambient_pa + model.sign * x[OPENING])
        g, room = model.quote_pa, model.ambient_pa
        gap = g * room / (room + g) if model.sign > 0 else 0.5 * (g + g * g / 35e3)
        assert made.pressed * gap == pytest.approx(x[PRESSED])
        assert made.relaxation == pytest.approx(math.exp(-x[LOG_TAU]))
        plain = (made.start, made.warmth, made.drift, made.growth, made.convection)
        assert plain == tuple(x[[START, WARMTH, DRIFT, GROWTH, CONVECTION]])


def test_slopes_of_the_leak() -> None:
    """Of all that shapes it by all that is sought, central differences; what the gauge adds moves no leak."""
    for rng, model in holds(9, 6):
        x = rng.uniform(0.1, 0.9, len(NAMES))
        x[RATE], x[START], x[OPENING] = rng.uniform(1.0, 500.0), 1.3e5, rng.uniform(0.0, 8e3)
        slopes = model._chain(x)
        for k in range(len(NAMES)):
            step = np.zeros(len(NAMES))
            step[k] = 1e-4 * max(abs(x[k]), 1.0)
            change = (model.leak(x + step).array() - model.leak(x - step).array()) / (2.0 * step[k])
            assert slopes[:, k] == pytest.approx(change, rel=1e-5, abs=1e-12), NAMES[k]


def test_a_guess_that_cannot_be_is_not_tried() -> None:
    """From the last solution by its slopes, where pressures stay numbers above zero; else, or in vain, from scratch."""
    _, model = holds(10, 1)[0]
    x, asked = model.start(), []

    def solve(leak: Leak, guess: Any = None) -> str:
        asked.append(guess)
        if guess is not None and guess[1] == "in vain":
            raise NotSolved
        return "a path"

    model.balance = SimpleNamespace(solve=solve)  # type: ignore[assignment]
    before = np.arange(10.0)
    for pressures, told, tried in (
        *(([1.0, 0.5], "near", [0]), ([1.0, 0.5], "in vain", [0, None]), ([1.0, np.nan], "near", [None])),
        *(([1.0, np.inf], "near", [None]), ([1.0, 0.0], "near", [None]), ([1.0, -2.0], "near", [None])),
    ):
        asked.clear()
        guess = (np.array(pressures), told)
        moved: list[np.ndarray] = []
        old = SimpleNamespace(moved=lambda change, moved=moved, guess=guess: moved.append(change) or guess)
        model._last = (before, old)  # type: ignore[assignment]
        assert model._solve(x) == "a path" and moved[0] == pytest.approx(model.leak(x).array() - before)
        assert asked == [guess if one == 0 else None for one in tried]
        assert model._last[1] == "a path" and np.array_equal(model._last[0], model.leak(x).array())


def test_room_for_the_search() -> None:
    """By hand; of a hold that ends on the other side of zero, next to nothing, or deep in a vacuum."""
    for sign, first, last, ambient in (
        *((1.0, 40e3, 30e3, 1e5), (-1.0, 40e3, 30e3, 1e5), (1.0, 40e3, -2e3, 1e5), (-1.0, 40e3, -2e3, 1e5)),
        *((1.0, 500.0, 300.0, 9e4), (-1.0, 97e3, 60e3, 1e5), (1.0, 200e3, 150e3, 1e5), (1.0, 20e3, 20e3, 1e5)),
    ):
        model = hold([0.0, 30.0, 80.0], sign * np.array([first, 0.5 * (first + last), last]), ambient, sign)
        low, high = model.bounds()
        assert (low[RATE], high[RATE]) == (0.0, 50.0 * max(first, 1000.0))  # a fiftieth of a second
        capped = 1.0 + sign * min(first / ambient, 0.9)
        assert high[WARMTH] == pytest.approx(1.15 * abs(capped ** (0.4 / 1.4) - 1.0), rel=1e-9)
        assert np.all(low[[WARMTH, ZERO, DRIFT, PRESSED]] == -high[[WARMTH, ZERO, DRIFT, PRESSED]])
        assert np.all(low[RUBBER:] == -high[RUBBER:]) and low[CONVECTION] == 0.0 and low[SHARE] == 0.0
        assert np.all(low <= high) and low[OPENING] == high[OPENING] == low[GROWTH] == high[GROWTH] == 0.0
        closes = model.bounds("opening")
        assert closes[1][OPENING] == pytest.approx(min(0.999 * max(last, 0.0), 0.97 * first))
        assert closes[0][OPENING] == 0.0 == closes[1][GROWTH]
        grows = model.bounds("growth")
        assert (grows[0][GROWTH], grows[1][GROWTH]) == pytest.approx((-1.0 / 80.0, 50.0 / 80.0))
        assert grows[1][OPENING] == 0.0


def test_first_guesses_of_random_holds() -> None:
    """The exponential of all that is above a fifth, numpy's line; its speed at 0.6 of the start."""
    for rng, model in holds(2, 30):
        t, zero = model.readings.time_s, model.priors.zero_pa
        p = np.maximum(model.sign * (model.readings.pressure_pa - zero), 1.0)
        use = p > 0.2 * p[0]
        tau = -1.0 / np.polynomial.polynomial.polyfit(t[use], np.log(p[use]), 1)[1]
        share = rng.uniform()
        guess = model.start(share)
        assert guess[RATE] == pytest.approx(0.6 * p[0] / tau / relative(model, 0.6 * p[0], share), rel=1e-6)
        assert (guess[SHARE], guess[ZERO], guess[LOG_TAU]) == (share, zero, model.priors.log_tau)
        assert guess[START] == pytest.approx(model.readings.pressure_pa[0] - zero + model.ambient_pa)
        assert guess[WARMTH] == pytest.approx(model.priors.warmth.likeliest(model.priors.log_tau))
        assert np.all(guess[[DRIFT, OPENING, GROWTH, PRESSED, CONVECTION, *range(RUBBER, len(NAMES))]] == 0.0)
        tight = model.start_tight()
        assert tight[RATE] == 0.0 and tight[SHARE] == 0.5 and np.all(tight[2:] == model.start()[2:])


def test_first_guesses_of_what_does_not_fall() -> None:
    """A rise counts as 0.01 Pa/s; a reading that is gone at once, by the first two; below zero as 1 Pa."""
    t = np.array([0.0, 10.0, 20.0, 30.0])
    flow = ((1e5 + 24e3) ** 2 - 1e10) / ((1e5 + 35e3) ** 2 - 1e10)
    rises = hold(t, [40e3, 41e3, 42e3, 43e3], 1e5, 1.0)
    assert rises.start(1.0)[RATE] == pytest.approx(0.01 / flow)
    gone = hold(t, [40e3, -50.0, -50.0, -50.0], 1e5, 1.0)
    assert gone.start(1.0)[RATE] == pytest.approx(0.6 * 40e3 * math.log(40e3) / 10.0 / flow)
    for p, used in (
        ([40e3, 12e3, 8.1e3, 7.9e3], [0, 1, 2]),
        ([40e3, 12e3, 9e3, 8e3], [0, 1, 2]),  # exactly a fifth is not above it
        ([40e3, 5e3, 12e3, 6e3], [0, 2]),
    ):
        slope = np.polynomial.polynomial.polyfit(t[used], np.log(np.array(p)[used]), 1)[1]
        assert hold(t, p, 1e5, 1.0).start(1.0)[RATE] == pytest.approx(-slope * 24e3 / flow)
    deep = hold(t, -np.array([99.9e3, 90e3, 80e3, 70e3]), 1e5, -1.0, 99e3)
    assert deep._relative_flow(120e3, 1.0) == pytest.approx((1.0 - 0.01**2) / (1.0 - 0.01**2), rel=1e-6)
    assert deep._relative_flow(0.0, 1.0) == 1e-6


def test_first_guesses_of_what_closes() -> None:
    """The speed to the first reading below half of the fall, over the flow a quarter of the fall down."""
    for rng, model in holds(3, 30):
        p, t = model.sign * (model.readings.pressure_pa - model.priors.zero_pa), model.readings.time_s
        fall, share, opening = p[0] - p.min(), rng.uniform(), rng.uniform(0.0, 0.5) * p[0]
        half = next(k for k in range(1, p.size) if p[k] <= 0.5 * (p[0] + p.min()))
        guess = model.start_closing(opening, share)
        above = p[0] - 0.25 * fall - opening
        wanted = (p[0] - p[half]) / (t[half] - t[0]) / relative(model, above, share)
        assert guess[RATE] == pytest.approx(wanted, rel=1e-4) and guess[OPENING] == opening
        others = [k for k in range(len(NAMES)) if k not in (RATE, OPENING)]
        assert np.all(guess[others] == model.start(share)[others])
    still = hold([5.0, 10.0, 20.0], [40e3, 40e3, 40e3], 1e5, 1.0)  # no fall at all: as if 0.01 Pa/s
    above = ((1e5 + 20e3) ** 2 - 1e10) / ((1e5 + 35e3) ** 2 - 1e10)
    assert still.start_closing(20e3, 1.0)[RATE] == pytest.approx(0.01 / above)
    assert still.start_closing(20e3)[SHARE] == 0.5
    # half of the fall exactly at the second reading, five seconds after the first
    line = hold([5.0, 10.0, 20.0], [40e3, 30e3, 20e3], 1e5, 1.0)
    above = ((1e5 + 15e3) ** 2 - 1e10) / ((1e5 + 35e3) ** 2 - 1e10)
    assert line.start_closing(20e3, 1.0)[RATE] == pytest.approx(2000.0 / above)


def test_what_the_gauge_would_read() -> None:
    """The gas by the tests' own integration; the zero, rubber (log-time) and relaxations are added to it."""
    for rng, model in holds(4, 6):
        x, t = model.start(0.7), model.readings.time_s
        x[RATE], x[LOG_TAU], x[WARMTH] = 120.0, math.log(2.0), model.sign * 0.02
        k, a = truth.geometry(120.0, 0.7, model.ambient_pa, model.sign)
        quote = abs(truth.throughput(model.ambient_pa + model.sign * model.quote_pa, model.ambient_pa, k, a))
        share = k * abs(truth.throughput(model.ambient_pa + model.sign * model.quote_pa, model.ambient_pa, 1.0, 0.0))
        x[RATE], x[SHARE], x[ZERO] = quote, share / quote, 0.0
        kelvin = truth.WALL_K * x[WARMTH]
        gas = truth.balanced(t, x[START], model.ambient_pa, k, a, kelvin, 2.0) - model.ambient_pa
        found, slopes = model.predict(x)
        assert found == pytest.approx(gas, abs=8.0)
        x[ZERO], x[RUBBER:] = 55.0, rng.uniform(-90.0, 90.0, len(NAMES) - RUBBER)
        settles = np.exp(-t[:, None] / RELAXATIONS_S) @ x[CREEP:] - x[RUBBER] * np.log(1.0 + t / 0.5)
        assert model.predict(x)[0] - found == pytest.approx(55.0 + settles, abs=1e-3)
        assert np.all(slopes[:, ZERO] == 1.0)
        assert slopes[:, RUBBER] == pytest.approx(-np.log(1.0 + t / 0.5))
        assert slopes[:, CREEP:] == pytest.approx(np.exp(-t[:, None] / RELAXATIONS_S))
        rows, _ = model(x)
        assert rows[: t.size] == pytest.approx((model.predict(x)[0] - model.readings.pressure_pa) / 10.0)


def test_what_was_solved_before_is_only_a_start() -> None:
    """A fresh model and one that comes from far away give the same, however wild the way."""
    for rng, model in holds(5, 8):
        for _ in range(4):
            x = model.start(rng.uniform())
            x[RATE], x[LOG_TAU] = 10.0 ** rng.uniform(0.0, 4.5), rng.uniform(-2.0, 4.0)
            x[START] = model.ambient_pa + model.sign * rng.uniform(1e3, 45e3)
            x[PRESSED], x[CONVECTION] = rng.uniform(-0.3, 0.3), rng.uniform(0.0, 0.8)
            alone = hold(
                model.readings.time_s, model.readings.pressure_pa, model.ambient_pa, model.sign, model.quote_pa
            )
            assert model.predict(x)[0] == pytest.approx(alone.predict(x)[0], abs=3.0)
            assert model._last is not None and np.array_equal(model._last[0], model.leak(x).array())


def test_the_same_at_other_times() -> None:
    """Curves on a grid: the solution is shared where the hold is as long, and only there."""
    _, model = holds(6, 1)[0]
    x = model.start(0.5)
    model.predict(x)
    same, longer = model.at_times(np.linspace(0.0, 60.0, 7)), model.at_times(np.linspace(0.0, 90.0, 7))
    assert same._last is model._last and longer._last is None
    assert longer.readings.time_s[-1] == 90.0 and np.all(longer.readings.sigma_pa == 1.0)
    near = hold([0.0, 45.0, 90.0], [1.0, 1.0, 1.0], model.ambient_pa, 1.0, model.quote_pa)
    assert longer.predict(x)[0][[0, -1]] == pytest.approx(near.predict(x)[0][[0, -1]], abs=3.0)
    assert (same.ambient_pa, same.inward, same.quote_pa) == (model.ambient_pa, model.inward, model.quote_pa)
    assert same.priors is model.priors and np.all(same.readings.pressure_pa == model.readings.pressure_pa[0])


def test_the_scale_of_every_prior() -> None:
    """One row each: slope by its own number 1/sd, at the start's time constant the wider side's, tails by hand."""
    for rng, model in holds(7, 12):
        k, n = model.priors, model.readings.time_s.size
        x = model.start(0.6)
        for key in (DRIFT, PRESSED, RUBBER):
            x[key] = rng.choice([0.0, rng.normal()]) * {DRIFT: k.drift_sd, PRESSED: 0.07, RUBBER: 80.0}[key]
        x[CREEP:] = rng.normal(0.0, 50.0, len(NAMES) - CREEP)
        x[LOG_TAU] += rng.choice([-0.4, 0.0, 0.4])
        rows, slopes = (part[n:] for part in model(x))
        more = {
            SHARE: (0.5, 1.0),
            LOG_TAU: (k.log_tau, k.log_tau_sd if x[LOG_TAU] > k.log_tau else 3.0),
            ZERO: (k.zero_pa, 50.0),
            DRIFT: (0.0, k.drift_sd),
            PRESSED: (0.0, 0.07 if x[PRESSED] >= 0.0 else 0.035),
            CONVECTION: (0.0, 0.4),
            RUBBER: (0.0, 100.0 if x[RUBBER] * model.sign >= 0.0 else 20.0),
        } | {CREEP + j: (0.0, sd) for j, sd in enumerate((200.0, 200.0, 200.0, 150.0, 40.0, 10.0))}
        for row, key in enumerate(KNOWN):
            own = np.delete(slopes[row], [key, LOG_TAU] if key == WARMTH else [key])
            assert np.all(own == 0.0)
            if key == WARMTH:
                wanted = k.warmth.at(float(x[LOG_TAU]), float(x[WARMTH]))
                assert (rows[row], slopes[row, WARMTH], slopes[row, LOG_TAU]) == wanted
                continue
            centre, sd = more[int(key)]
            z, slope = (x[key] - centre) / sd, 1.0 / sd
            if key in (DRIFT, PRESSED, RUBBER):  # chi2/2 of sqrt(z^2 + 0.1^2) - 0.1, derived by z
                height = math.hypot(z, 0.1) - 0.1
                tail = math.copysign(math.sqrt(2.0 * height), z)
                slope *= z / math.hypot(z, 0.1) / tail if abs(z) > 1e-6 else 1.0 / math.sqrt(0.1)
                z = tail
            assert rows[row] == pytest.approx(z, abs=1e-9) and slopes[row, key] == pytest.approx(slope), NAMES[key]


# ---------------------------------------------------------------- how warm the gas was left


def first_law(t: np.ndarray, p: np.ndarray, ambient: float, tau_s: float) -> float:
    """T/T_w - 1 at the end of a filling: dp = gamma s dn + p_amb/tau (1 - theta) dt with n = p/theta (scipy).

    What enters has s = 1 + 0.3 of the isentropic warming between the room and the circuit; what leaves, theta.
    """

    def rates(at: float, y: np.ndarray) -> list[float]:
        now, speed = np.interp(at, t, p), np.interp(at, t[:-1] + 0.5 * np.diff(t), np.diff(p) / np.diff(t))
        theta = now / y[0]
        heat = ambient / tau_s * (1.0 - theta)
        supply = 1.0 + 0.3 * max((now / ambient) ** (0.4 / 1.4) - 1.0, 0.0)
        flow = speed - heat
        return [flow / 1.4 / (supply if flow > 0.0 else theta)]

    n = solve_ivp(rates, (t[0], t[-1]), [p[0]], method="LSODA", rtol=1e-8, atol=1e-3, max_step=t[-1] / 150.0).y[0, -1]
    return float(p[-1] / n) - 1.0


@pytest.mark.parametrize("way", ["filled", "emptied", "in strokes", "let in again"])
def test_the_gas_after_its_filling_by_the_first_law(way: str) -> None:
    """Five seconds of filling and five of rest."""
    ambient, t = 95e3, np.linspace(0.0, 10.0, 199)
    up = 45e3 * np.minimum(t / 5.0, 1.0)
    back = -up + 20e3 * np.clip(t - 6.0, 0.0, 1.0)
    strokes = up + 2e3 * np.sin(4.0 * t) * (t < 5.0)
    p = ambient + {"filled": up, "emptied": -up, "in strokes": strokes, "let in again": back}[way]
    sign = -1.0 if p[-1] < ambient else 1.0
    found = start_warmth(t, p, 10.0, ambient, sign)
    for k in (6, 12, 18, 26, 32):
        wanted = first_law(t, p, ambient, float(np.exp(_LOG_TAUS[k])))
        assert found.centre[k] == pytest.approx(wanted, rel=0.02, abs=2e-4 if way == "let in again" else 5e-5)
    assert np.exp(_LOG_TAUS[[0, -1]]) == pytest.approx([0.05, 300.0])
    assert found.known == pytest.approx(np.hypot(0.3 * found.centre, 0.0015))
    assert np.all(found.unseen == 0.0) and found.sign == sign


def test_what_was_there_before_the_log() -> None:
    """0.4 of the isentropic ratio of the first reading, dying with the gas's own density while it is watched."""
    t = np.linspace(0.0, 6.0, 121)
    for sign, first in ((1.0, 30e3), (-1.0, 30e3)):
        p = 95e3 + sign * np.full(121, first)
        found = start_warmth(t, p, 8.0, 95e3, sign)  # and 2 s more until it was shut
        ratio = 1.0 + sign * first / 95e3
        taus = np.exp(_LOG_TAUS)
        fades = np.exp(-6.0 / ratio / taus - 2.0 / taus)
        assert found.unseen == pytest.approx(0.4 * abs(ratio ** (0.4 / 1.4) - 1.0) * fades)
        assert np.all(found.centre == 0.0)
        shut = start_warmth(t, p, 6.0, 95e3, sign)
        assert shut.unseen == pytest.approx(0.4 * abs(ratio ** (0.4 / 1.4) - 1.0) * np.exp(-6.0 / ratio / taus))
    # filled further while it is watched: the first reading's warming, dying with what is there by and by
    p = 95e3 + 10e3 + 5e3 * t
    watched = np.trapezoid(95e3 / p, t)
    found = start_warmth(t, p, 6.0, 95e3, 1.0)
    assert found.unseen == pytest.approx(
        0.4 * ((105.0 / 95.0) ** (0.4 / 1.4) - 1.0) * np.exp(-watched / taus), rel=1e-3
    )
    # filled the other way round before: nothing was left unseen that the sign knows of
    assert np.all(start_warmth(t, np.full(121, 95e3), 6.0, 95e3, 1.0).unseen == 0.0)
    empty = start_warmth(t[:1], np.zeros(1), 0.0, 95e3, -1.0)  # a gauge that says no air at all: as if 1 kPa
    assert empty.unseen == pytest.approx(np.full(33, 0.4 * (1.0 - (1e3 / 95e3) ** (0.4 / 1.4))))


def test_readings_of_a_filling_are_averaged_by_hand() -> None:
    """Those of the last 90 s; 200 groups from behind, the last one alone; what makes no whole group is left out."""
    t = np.arange(-300.0, 50.0, 0.5)
    found_t, found_p = _thinned(t, 2.0 * t, 10.0)
    assert (found_t[0], found_t[-1]) == (-80.0, 10.0) and found_p == pytest.approx(2.0 * found_t)
    rng = np.random.default_rng(2)
    for count, per in ((200, 1), (201, 2), (300, 2), (1000, 5), (1001, 6), (1005, 6)):
        many, p = np.arange(count) * 0.01, rng.normal(size=count)
        found_t, found_p = _thinned(many, p, 20.0)
        groups = [*np.arange((count - 1) % per, count - 1).reshape(-1, per), np.array([count - 1])]
        assert found_t == pytest.approx([many[g].mean() for g in groups])
        assert found_p == pytest.approx([p[g].mean() for g in groups])


def test_between_the_grid_s_time_constants() -> None:
    """numpy's interpolation, held beyond the ends; the slope is that of the piece."""
    values = np.cumsum(np.random.default_rng(3).normal(size=33))
    for log_tau in np.random.default_rng(4).uniform(_LOG_TAUS[0] - 1.0, _LOG_TAUS[-1] + 1.0, 60):
        value, slope = _between(float(log_tau), values)
        assert value == pytest.approx(np.interp(log_tau, _LOG_TAUS, values), abs=2e-3)
        k = int(np.clip(np.searchsorted(_LOG_TAUS, log_tau) - 1, 0, 31))
        assert slope == pytest.approx((values[k + 1] - values[k]) / (_LOG_TAUS[k + 1] - _LOG_TAUS[k]))


def test_priors_by_hand() -> None:
    """1.5 s at 200 cm3 and its cube root, doubt of e^0.7; without a volume e^1; walls 0.45 or 0.05 K a minute."""
    warmth = StartWarmth(np.zeros(33), np.ones(33), np.zeros(33), 1.0)
    found = priors_for(3.0, 7.0, warmth, 100e-6, 1e-5)
    assert (found.zero_pa, found.zero_sd_pa, found.warmth) == (3.0, 7.0, warmth)
    assert found.log_tau == pytest.approx(math.log(1.5 * 0.5 ** (1.0 / 3.0))) and found.log_tau_sd == 0.7
    assert found.drift_sd == pytest.approx(math.hypot(0.45 / 60.0 / 293.15, 1e-5))
    bare = priors_for(3.0, 7.0, warmth, None, thermometer=True)
    assert bare.log_tau == pytest.approx(math.log(1.5)) and bare.log_tau_sd == 1.0
    assert bare.drift_sd == pytest.approx(0.05 / 60.0 / 293.15)
    assert bare.creep_sd_pa == (200.0, 200.0, 200.0, 150.0, 40.0, 10.0) and bare.pressed_sd == 0.07


def test_a_model_made_wider_leaves_the_first_as_it_was() -> None:
    _, model = holds(8, 1)[0]
    wider, soft = model.with_sigma(3.0), model.in_shape("creep")
    assert np.all(model.readings.sigma_pa == 10.0) and np.all(wider.readings.sigma_pa == 30.0)
    assert model.priors.creep_sd_pa[0] == 200.0 and soft.priors == replace(
        model.priors, creep_sd_pa=(450.0, 450.0, 450.0, 700.0, 700.0, 700.0)
    )
