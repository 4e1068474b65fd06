"""The search and the sizes, written a second time: projections by numpy, the rest by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.fit import leak as leak_room
from leakdown.fit.interval import CHI2_95, Profile, profile, rise_of_95, straight_profile
from leakdown.fit.leak import Vessel, _at_quote, _hole, _sd_along, _sd_when_tight, curve, settled_after_s, size
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
    HoldModel,
)
from leakdown.fit.search import (
    HoldFit,
    _corner,
    at_scatter,
    correlation_widening,
    first_look,
    likeliest_start,
    refit,
    search,
)
from leakdown.physics.balance import NotSolved
from leakdown.uncertainty import Interval
from tests.fit import truth
from tests.fit.test_model_again import hold
from tests.fit.test_reckoned import _model

Z = 1.959963984540054


def noisy(sign: float = 1.0, more: float = 1.0, count: int = 61) -> HoldModel:
    """A weep and a hole, readings 10 Pa apart from it, said to be `more` times as good."""
    return _model(sign, count, 10.0).with_sigma(1.0 / more)


def freedom(found: HoldFit) -> tuple[float, float]:
    """Degrees of freedom and reduced chi2 of the readings, by numpy's projection (trace of the hat matrix)."""
    n, free = found.model.readings.time_s.size, found.free
    jac = found.fit.jacobian[:, free] / np.linalg.norm(found.fit.jacobian[:, free], axis=0)
    hat = jac @ np.linalg.solve(jac.T @ jac, jac.T)
    dof = n - float(np.trace(hat[:n, :n]))
    return dof, float(np.sum(found.fit.residuals[:n] ** 2)) / dof


def test_where_searches_begin() -> None:
    """The likeliest gas for a time constant, over its centre or as many times that."""
    model = _model()
    model.priors = replace(model.priors, warmth=replace(model.priors.warmth, centre=np.linspace(-0.01, 0.02, 33)))
    k = model.priors
    for x, share, tau in (
        (likeliest_start(model), 0.5, 1.0),
        (_corner(model, 4.0, 0.9), 0.9, 4.0),
        (_corner(model, 0.2, 0.1), 0.1, 0.2),
    ):
        at = k.log_tau + math.log(tau)
        assert (x[SHARE], x[LOG_TAU], x[WARMTH]) == (share, pytest.approx(at), pytest.approx(k.warmth.likeliest(at)))
        others = [i for i in range(len(x)) if i not in (LOG_TAU, WARMTH)]
        assert np.all(x[others] == model.start(share)[others])
    assert k.warmth.likeliest(k.log_tau) != pytest.approx(k.warmth.likeliest(k.log_tau + math.log(4.0)))


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_what_a_search_says_of_itself(sign: float) -> None:
    """Readings as good as said, and twice as good as they are: widened until what is left is what was said."""
    for more in (0.5, 1.0, 3.0):
        model = noisy(sign, more)
        found = search(model)
        dof, left = freedom(found)
        assert found.fit.converged and found.dof == pytest.approx(dof, abs=1e-3)
        assert found.misfit == pytest.approx(left * found.inflation, rel=1e-4)
        widened = found.model.readings.sigma_pa / model.readings.sigma_pa
        assert widened == pytest.approx(math.sqrt(found.inflation))
        assert found.inflation == pytest.approx(max(found.misfit, 1.0), rel=0.03)
        assert (found.inflation > 1.0) is (more == 3.0)
        priors = float(np.sum(found.fit.residuals[61:] ** 2))
        assert found.on_priors == pytest.approx(priors)
        assert found.cost == pytest.approx(found.misfit * found.dof + priors)
        lower, upper = found.lower, found.upper
        assert np.array_equal(lower, model.bounds()[0]) and np.array_equal(upper, model.bounds()[1])
        x = found.fit.parameters
        assert np.array_equal(found.free, (x > lower) & (x < upper))
        # nothing near by is better, whatever moves (the gradient of chi2 along each that is free)
        step = 1e-3 / np.linalg.norm(found.fit.jacobian, axis=0)[found.free]
        slope = 2.0 * (found.fit.jacobian.T @ found.fit.residuals)[found.free]
        assert np.abs(slope * step).max() < 1e-3


def test_intervals_of_a_fit() -> None:
    """By the profile, or by the straight line for what weighs little; wider where the readings told their scatter."""
    found = search(noisy(more=3.0, count=13))
    rise = rise_of_95(found.dof, found.misfit)
    assert rise > CHI2_95 and found.misfit > 1.3
    bounds = found.lower, found.upper
    close, straight = found.profile(RATE), found.profile(RATE, closely=False)
    known = profile(found.model, found.fit, RATE, *bounds, rise)
    assert (close.low, close.high) == pytest.approx((known.low, known.high), rel=5e-3)
    line = straight_profile(found.fit, RATE, *bounds, rise)
    assert (straight.low, straight.high) == (line.low, line.high) and straight.high != close.high


def test_a_glance_at_a_wider_scatter() -> None:
    """Deviations are the root of the scatter larger; the misfit stays that of the readings as they are."""
    model = noisy(more=2.0)
    seen = at_scatter(model, "plain", likeliest_start(model), 9.0)
    dof, left = freedom(seen)
    assert seen.inflation == 9.0 and seen.dof == pytest.approx(dof, abs=1e-3)
    assert seen.model.readings.sigma_pa == pytest.approx(3.0 * model.readings.sigma_pa)
    assert seen.misfit == pytest.approx(9.0 * left) and 2.0 < seen.misfit < 8.0
    assert seen.fit.iterations <= 10 and at_scatter(model, "plain", model.start(), 9.0, 2).fit.iterations == 2
    growing = at_scatter(model, "growth", likeliest_start(model), 9.0)
    assert growing.upper[GROWTH] > 0.0 == seen.upper[GROWTH]
    looked = first_look(model)
    assert looked.inflation == 1.0 and np.all(looked.model.readings.sigma_pa == model.readings.sigma_pa)
    assert looked.misfit == pytest.approx(search(model).misfit, rel=0.3)
    nowhere = likeliest_start(model)
    nowhere[RATE] = math.nan
    lost = at_scatter(model, "plain", nowhere, 9.0)
    assert lost.misfit == math.inf and lost.dof == 1.0


def test_a_fit_that_crawls_has_arrived() -> None:
    """After 400 steps what no reading can tell from level, 0.02 of chi2, is enough; before that a 1e-5."""
    asked: list[int] = []

    def valley(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """chi2 falls by a hundredth at every step, and all of it is promised."""
        asked.append(1)
        return np.array([math.sqrt(900.0 - 0.0105 * len(asked))]), np.ones((1, 1))

    wide = np.full(1, -np.inf), np.full(1, np.inf)
    found = refit(valley, np.zeros(1), *wide)  # type: ignore[arg-type]
    assert found.converged and len(asked) == 401 + 1 + 3
    asked.clear()

    def endless(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        asked.append(1)
        return np.array([math.sqrt(900.0 - 0.03 * len(asked))]), np.ones((1, 1))

    never = refit(endless, np.zeros(1), *wide)  # type: ignore[arg-type]
    assert not never.converged and len(asked) == 401 + 81
    small: list[float] = []

    def near(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        small.append(float(x[0]))
        return np.array([x[0]]), np.eye(1)

    for square, moves in ((0.9e-5, False), (1.1e-5, True)):
        small.clear()
        refit(near, np.array([math.sqrt(square)]), *wide)  # type: ignore[arg-type]
        assert (len(small) > 1) is moves


def test_correlation_by_hand() -> None:
    """(1 + r)/(1 - r) once the lag-1 autocorrelation stands out of 2/sqrt(n), from thirty readings on."""
    rng = np.random.default_rng(1)
    for _ in range(60):
        n, memory = int(rng.integers(25, 200)), rng.uniform(-0.5, 0.9)
        x = [rng.normal()]
        for _ in range(n - 1):
            x.append(memory * x[-1] + rng.normal())
        r = np.array(x)
        lag = float(np.sum(r[1:] * r[:-1]) / np.sum(r * r))
        wanted = (1.0 + lag) / (1.0 - lag) if n >= 30 and lag > 2.0 / math.sqrt(n) else 1.0
        assert correlation_widening(r) == pytest.approx(wanted)


# ---------------------------------------------------------------- sizes


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_doubt_of_a_tight_circuit(sign: float) -> None:
    """Standard deviation of the rate with no leak, by the inverse normal matrix of all that may move (numpy)."""
    found = search(noisy(sign))
    x = found.fit.parameters.copy()
    x[[RATE, OPENING, GROWTH]], x[RUBBER], x[DRIFT] = 0.0, sign * 50.0, 0.5 * found.model.priors.drift_sd
    _, jac = found.model(x)
    moves = [k for k in range(x.size) if found.upper[k] > found.lower[k] and k not in (OPENING, GROWTH)]
    length = np.maximum(np.linalg.norm(jac[:, moves], axis=0), 1e-300)
    normal = np.linalg.pinv((jac[:, moves] / length).T @ (jac[:, moves] / length), rcond=1e-12)
    at = moves.index(RATE)
    assert _sd_when_tight(found) == pytest.approx(math.sqrt(normal[at, at]) / length[at], rel=2e-3)
    # a shape with one more number asks for the same
    model = found.model.in_shape("opening")
    closing = replace(found, model=model, upper=model.bounds("opening")[1])
    assert _sd_when_tight(closing) == pytest.approx(_sd_when_tight(found), rel=2e-3)


def test_the_hole_of_a_throughput_by_hand() -> None:
    """q = C_d pi/4 d^2 p psi sqrt(R T) with the tests' own psi."""
    vessel = Vessel(2e-4, None, 300.0, 0.7)
    for inward in (False, True):
        high, low = (9e4, 6e4) if inward else (12e4, 9e4)
        found: Any = SimpleNamespace(model=SimpleNamespace(ambient_pa=9e4, inward=inward))
        hole = _hole(Interval(0.02, 0.01, 0.05), found, 30e3, vessel)
        speed = high * truth.psi(low / high) * math.sqrt(287.05287 * 300.0)
        for d, q in ((hole.value, 0.02), (hole.low, 0.01), (hole.high, 0.05)):
            assert d is not None and 0.7 * math.pi / 4.0 * d**2 * speed == pytest.approx(q)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_loss_at_the_quoted_pressure(sign: float) -> None:
    """Of a leak that closes: the plain law above where it does, its gap as wide as the gauge pressure makes it."""
    model = hold([0.0, 60.0], [sign * 40e3, sign * 30e3], 95e3, sign)
    x = model.start(0.4)
    x[RATE], x[OPENING] = 80.0, 12e3
    made = model.leak(x)
    at = 95e3 + sign * 35e3
    wanted = abs(truth.throughput(at, 95e3 + sign * 12e3, made.viscous, made.orifice))
    assert _at_quote(SimpleNamespace(model=model), x, 35e3) == pytest.approx(wanted, rel=1e-5)  # type: ignore[arg-type]
    x[OPENING] = 36e3
    assert _at_quote(SimpleNamespace(model=model), x, 35e3) == 0.0  # type: ignore[arg-type]


def test_a_size_of_readings_is_what_they_were_made_of() -> None:
    """150 Pa/s in 250 cm3, of it 0.7 viscously; the hole by hand; nothing that a plain leak has not."""
    for sign in (1.0, -1.0):
        sized = size(search(noisy(sign)), 35e3, Vessel(250e-6, 5e-6, 293.15, 0.61))
        leak = sized.estimate
        assert sized.complete and leak.detected and leak.rate_pa_s.low < 150.0 < leak.rate_pa_s.high
        assert leak.rate_pa_s.value == pytest.approx(150.0, rel=0.05) and leak.at_pa == sign * 35e3
        assert leak.viscous_share.low <= 0.7 <= leak.viscous_share.high
        assert leak.throughput_pa_m3_s is not None and leak.throughput_pa_m3_s.value == pytest.approx(
            250e-6 * leak.rate_pa_s.value
        )
        assert leak.opening_pa is None is leak.growth_per_min and len(sized.plausible) == 5
        assert leak.detection_rate_pa_s == pytest.approx(
            (Z + 1.6448536269514722) * _sd_when_tight(sized.found), rel=2e-3
        )
        assert np.array_equal(sized.plausible[0], sized.found.fit.parameters)


def test_a_curve_and_its_band() -> None:
    """The prediction on 240 points, a band of 1.96 of what the covariance gives; none where nothing is solved."""
    found = search(noisy())
    seen = curve(found, 7.0)
    assert seen is not None and seen.time_s[0] == 7.0 and seen.time_s[-1] == 67.0 and seen.time_s.size == 240
    value, jac = found.model.at_times(seen.time_s - 7.0).predict(found.fit.parameters)
    half = Z * np.sqrt(np.diag(jac @ found.fit.covariance @ jac.T))
    assert seen.pressure_pa == pytest.approx(value) and seen.high_pa - value == pytest.approx(half, rel=1e-6)
    assert value - seen.low_pa == pytest.approx(half, rel=1e-6)
    assert _sd_along(np.array([[1.0, 2.0]]), -np.eye(2)).tolist() == [0.0]

    def nowhere(x: np.ndarray) -> None:
        raise NotSolved

    lost: Any = SimpleNamespace(
        model=SimpleNamespace(readings=found.model.readings, at_times=lambda t: SimpleNamespace(predict=nowhere)),
        fit=found.fit,
    )
    assert curve(lost, 0.0) is None


def test_profiles_are_taken_as_closely_as_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """A leak that closes has three intervals: of rate, share and opening."""
    asked: list[tuple[int, bool]] = []
    found = search(noisy())
    whole = HoldFit.profile
    monkeypatch.setattr(
        HoldFit, "profile", lambda self, k, closely=True: asked.append((k, closely)) or whole(self, k, False)
    )
    monkeypatch.setattr(leak_room, "_sd_when_tight", lambda found: 1.0)
    size(found, 35e3, Vessel(None, None, 293.15, 0.61), closely=False)
    assert asked == [(RATE, False), (SHARE, False)]
    asked.clear()
    x = found.fit.parameters.copy()
    x[OPENING] = 5e3
    upper = found.upper.copy()
    upper[OPENING] = 9e3
    closing = replace(found, fit=replace(found.fit, parameters=x), upper=upper)
    for closely in (True, False):
        asked.clear()
        sized = size(closing, 35e3, Vessel(None, None, 293.15, 0.61), closely)
        assert asked == [(RATE, closely), (SHARE, closely), (OPENING, closely)] and len(sized.plausible) == 7


def test_small_numbers_are_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    """A lower end, an opening and a growth of less than one are still above zero."""
    x = np.zeros(18)
    x[RATE], x[SHARE], x[OPENING], x[GROWTH] = 2.0, 0.5, 0.5, 0.5
    ends = Profile(0.5, 3.0, x, x, True)
    found: Any = SimpleNamespace(
        model=SimpleNamespace(sign=1.0, ambient_pa=1e5, inward=False),
        fit=SimpleNamespace(parameters=x, converged=True),
        profile=lambda index, closely: ends,
    )
    monkeypatch.setattr(leak_room, "_profiled", lambda one, closely: (one, ends, ends))
    monkeypatch.setattr(leak_room, "_sd_when_tight", lambda one: 1.0)
    monkeypatch.setattr(leak_room, "_at_quote", lambda one, at, quote: 0.5)
    leak = size(found, 35e3, Vessel(2e-4, None, 293.15, 0.61)).estimate
    assert leak.detected and leak.rate_pa_s.value == 0.5 and leak.rate_pa_s.low == pytest.approx(0.4)
    assert leak.opening_pa == 0.5 and leak.growth_per_min == 30.0
    x[OPENING] = x[GROWTH] = 0.0
    leak = size(found, 35e3, Vessel(2e-4, None, 293.15, 0.61)).estimate
    assert leak.rate_pa_s == Interval(2.0, 0.5, 3.0) and leak.opening_pa is None is leak.growth_per_min


def test_better_valleys_are_followed_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    """Then the third is left, and the intervals are those of the second."""
    better = iter([np.full(1, at) for at in (7.0, 8.0, 9.0, 10.0)])
    found: Any = SimpleNamespace(
        model="m",
        lower=0,
        upper=1,
        profile=lambda index: Profile(1.0, 2.0, np.zeros(1), np.zeros(1), True, next(better)),
    )
    monkeypatch.setattr(leak_room, "refit", lambda model, start, low, high: float(start[0]))
    monkeypatch.setattr(leak_room, "replace", lambda one, fit: SimpleNamespace(**(vars(one) | {"fit": fit})))
    again, rate, share = leak_room._profiled(found, True)
    assert again.fit == 8.0 and rate.better is not None and rate.better[0] == 9.0 and share.better[0] == 10.0


def creeping(tau_s: float, creep_pa: float, start_pa: float, noise_pa: float, span_s: float = 120.0) -> Any:
    """A stand-in for a fit with one relaxation of that time, and no warm gas."""
    x = np.zeros(len(NAMES))
    x[START], x[CREEP] = 1e5 + start_pa, creep_pa
    readings = SimpleNamespace(time_s=np.linspace(0.0, span_s, 121), sigma_pa=np.full(121, noise_pa))
    one = np.eye(1, len(NAMES) - CREEP)
    model = SimpleNamespace(readings=readings, ambient_pa=1e5, creep=lambda t: np.exp(-t / tau_s)[:, None] * one)
    return SimpleNamespace(model=model, fit=SimpleNamespace(parameters=x, converged=True))


def test_settled_either_way() -> None:
    """ln(creep/enough) tau, of either sign; enough is 0.5 % of the start, 50 Pa or the noise twice."""
    for creep in (900.0, -900.0):
        for start, noise, enough in ((40e3, 1.0, 200.0), (-40e3, 1.0, 200.0), (5e3, 1.0, 50.0), (5e3, 100.0, 200.0)):
            for tau in (3.0, 30.0):
                found = settled_after_s(creeping(tau, creep, start, noise))
                assert found == pytest.approx(tau * math.log(900.0 / enough), abs=0.31)
    assert settled_after_s(creeping(1e4, 900.0, 5e3, 1.0)) == 120.0  # not yet, at the last reading


def test_settled_is_told_finely_in_the_first_minute() -> None:
    """To a sixth of a second in a hold of an hour."""
    found = settled_after_s(creeping(10.0, 900.0, 5e3, 1.0, 3600.0))
    assert found == pytest.approx(10.0 * math.log(18.0), abs=0.16)
