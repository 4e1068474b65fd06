"""Evidence, scatter, shapes, intervals and ratios of fits, by hand and against scipy's densities."""

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
from leakdown.fit.interval import CHI2_95, Profile, _first_step, _Search
from leakdown.fit.leak import Vessel
from leakdown.fit.least_squares import least_squares, time_constant_s
from leakdown.fit.model import GROWTH, NAMES, OPENING, RATE, SHARE
from leakdown.fit.ratio import BASE_RATE, BASE_SHARE, LOG_RATIO, JointHold, _log_rate, _mean
from leakdown.fit.rivals import prior_of, scatter_of, weights_of
from leakdown.fit.search import HoldFit, correlation_widening
from leakdown.fit.search import _scatter as misfit_of
from leakdown.fit.shape import Jump, _scored, biggest_jump, scatter_after, worth_a_look
from leakdown.uncertainty import Interval
from tests.fit.test_reckoned import AMBIENT, Z, _estimate, _model

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
