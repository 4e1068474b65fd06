"""The loss over a limit's time on curves that are known in closed form: moments, amounts and doubts by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import Limit
from leakdown.fit.model import GROWTH, NAMES
from leakdown.judge import loss
from leakdown.judge.loss import Loss
from leakdown.physics.balance import NotSolved
from leakdown.uncertainty import Interval

Z = 1.959963984540054
LIMIT = Limit("7 kPa in 60 s from 40 kPa", "drop", "given", drop_pa=7e3, time_s=60.0, start_pa=40e3)
OPEN = replace(LIMIT, start_pa=None)
SPAN, TAU = 100.0, 50.0
COVARIANCE = np.array([[2500.0, 3.0], [3.0, 0.04]])


def _found(start_pa: float, tau_s: float = TAU, span_s: float = SPAN) -> Any:
    """A fit of start_pa exp(-t / tau), which is its settled curve."""
    return SimpleNamespace(
        model=SimpleNamespace(readings=SimpleNamespace(time_s=np.array([0.0, 3.0, span_s]))),
        fit=SimpleNamespace(parameters=np.array([start_pa, tau_s]), covariance=COVARIANCE),
    )


def _exponential(found: Any, time_s: Any) -> Any:
    start, tau = found.fit.parameters
    left = np.exp(-np.asarray(time_s) / tau)
    return start * left, np.column_stack((left, start * np.asarray(time_s) / tau**2 * left))


@pytest.fixture
def exponential(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loss, "_settled_size", _exponential)
    monkeypatch.setattr(loss, "_leak_alone_pa", lambda model, x, pa, time_s: pa * (1.0 - math.exp(-pa * time_s / 4e6)))


def _hold(start_s: float = 2.0, closed_s: float = 2.0, start_pa: float = 45e3) -> Any:
    return SimpleNamespace(start_s=start_s, closed_s=closed_s, end_s=closed_s + SPAN, start_pa=start_pa)


def _doubt(slopes: Any) -> float:
    return Z * math.sqrt(float(np.array(slopes) @ COVARIANCE @ np.array(slopes)))


def test_a_loss_from_the_hold_s_own_start(exponential: None) -> None:
    """From when the hold begins, 3 s after shutting; from shutting where the time would not fit else."""
    for time_s, begin in ((60.0, 3.0), (97.0, 3.0), (97.1, 0.0), (100.0, 0.0)):
        found = loss._on_curve(_found(45e3), _hold(5.0), replace(OPEN, time_s=time_s))
        assert found is not None and (found.basis, found.from_s) == ("reading", begin)
        first, last = math.exp(-begin / TAU), math.exp(-(begin + time_s) / TAU)
        assert found.from_pa == pytest.approx(45e3 * first)
        assert found.measured.value == pytest.approx(45e3 * (first - last))
        slopes = last - first, 45e3 / TAU**2 * ((begin + time_s) * last - begin * first)
        assert found.measured.high - 45e3 * (first - last) == pytest.approx(_doubt(slopes))
    early = loss._on_curve(_found(45e3), _hold(1.0), OPEN)
    assert early is not None and early.from_s == 0.0  # a hold never begins before its valve is shut
    assert loss._on_curve(_found(45e3), _hold(), replace(OPEN, time_s=100.1)) is None


def test_a_loss_from_where_the_curve_passes_the_limit_s_start(exponential: None) -> None:
    """tau ln(45/40) s; a later start moves the end too, by the ratio of the slopes, a thousandth of the span wide."""
    found = loss._on_curve(_found(45e3), _hold(), LIMIT)
    begin = TAU * math.log(45.0 / 40.0)
    assert found is not None and found.from_s == pytest.approx(begin, rel=1e-3) and found.from_pa == 40e3
    end = found.from_s + 60.0
    assert found.measured.value == pytest.approx(40e3 - 45e3 * math.exp(-end / TAU))
    # one step of h = 0.1 s on from the start, one back from the end: exp((h - 60) / tau)
    timing = math.exp((0.1 - 60.0) / TAU)
    first, last = (
        np.array([math.exp(-at / TAU), 45e3 * at / TAU**2 * math.exp(-at / TAU)]) for at in (found.from_s, end)
    )
    assert found.measured.high - (found.measured.value or 0.0) == pytest.approx(_doubt(last - timing * first), rel=1e-6)
    assert loss._on_curve(_found(45e3), _hold(), replace(LIMIT, time_s=95.0)) is None  # over after the hold
    level = loss._on_curve(_found(40e3), _hold(), LIMIT)  # begins right there
    assert level is not None and (level.from_s, level.from_pa) == (0.0, 40e3)
    assert level.measured.value == pytest.approx(40e3 * (1.0 - math.exp(-60.0 / TAU)))
    assert loss._on_curve(_found(37.9e3), _hold(), LIMIT) is None
    assert loss._on_curve(_found(41e3, 1e6), _hold(), LIMIT) is None  # never gets there


def test_a_curve_that_hardly_falls_at_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """45 kPa - a t^2 falls many times faster at the end: three times counts at most (the start's own doubt is all)."""
    fall = 4.0
    monkeypatch.setattr(
        loss, "_settled_size",
        lambda found, t: (45e3 - fall * np.asarray(t) ** 2, np.column_stack((np.ones(len(t)), np.asarray(t)))),
    )  # fmt: skip
    found = loss._on_curve(_found(45e3), _hold(), replace(LIMIT, start_pa=44.999e3, time_s=60.0))
    assert found is not None and found.from_s is not None
    begin, end = found.from_s, found.from_s + 60.0
    assert (2.0 * end - 0.1) / (2.0 * begin + 0.1) > 3.0
    half = _doubt([1.0 - 3.0, end - 3.0 * begin])
    assert found.measured.high - (found.measured.value or 0.0) == pytest.approx(half)


def test_a_start_a_little_below_the_limit_s(exponential: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """From 38 kPa, 95 % of 40, on: the loss times what the leak alone takes from 40 over what it takes from there."""
    for start in (38e3, 39.99e3):
        found = loss._on_curve(_found(start), _hold(9.0), LIMIT)
        lost = start * (1.0 - math.exp(-60.0 / TAU))
        alone = [pa * (1.0 - math.exp(-pa * 60.0 / 4e6)) for pa in (start, 40e3)]
        assert found is not None and (found.from_s, found.from_pa) == (0.0, start)
        assert found.measured.value == pytest.approx(lost * alone[1] / alone[0])
        slopes = math.exp(-60.0 / TAU) - 1.0, start * 60.0 / TAU**2 * math.exp(-60.0 / TAU)
        assert found.measured.high - (found.measured.value or 0.0) == pytest.approx(
            _doubt(slopes) * alone[1] / alone[0]
        )
    just = loss._on_curve(_found(40e3 * (1.0 - 1e-7)), _hold(), LIMIT)
    assert just is not None and (just.from_s, just.from_pa) == (0.0, 40e3 * (1.0 - 1e-7))
    # a leak that takes a pascal or less says nothing of the ratio
    for as_fitted, more in ((1.0, 1.0), (1.1, 2.0 / 1.1)):
        sizes = {38e3: as_fitted, 40e3: 2.0}
        monkeypatch.setattr(loss, "_leak_alone_pa", lambda model, x, pa, time_s, sizes=sizes: sizes[float(pa)])
        scaled = loss._on_curve(_found(38e3), _hold(), LIMIT)
        assert scaled is not None and scaled.measured.value == pytest.approx(38e3 * (1.0 - math.exp(-1.2)) * more)


def test_more_than_the_limit_from_below_its_start(monkeypatch: pytest.MonkeyPatch) -> None:
    """Surely over, from the start at most; what just meets the limit is not over it."""
    asked: list[Any] = []
    own = Loss(Interval(8e3, 7001.0, 9e3), "reading", 3.0, 39e3)
    monkeypatch.setattr(loss, "_settled_size", lambda found, t: (np.array([found]), None))
    monkeypatch.setattr(loss, "_on_curve", lambda *given: asked.append(given) or own)
    assert loss._over_from_below(40e3, "hold", LIMIT) is own and asked == [(40e3, "hold", OPEN)]  # type: ignore[arg-type]
    assert loss._over_from_below(40.1e3, "hold", LIMIT) is None  # type: ignore[arg-type]
    assert loss._over_from_below(39e3, "hold", OPEN) is None  # type: ignore[arg-type]
    monkeypatch.setattr(loss, "_on_curve", lambda *_: replace(own, measured=Interval(8e3, 7e3, 9e3)))
    assert loss._over_from_below(39e3, "hold", LIMIT) is None  # type: ignore[arg-type]
    monkeypatch.setattr(loss, "_on_curve", lambda *_: None)
    assert loss._over_from_below(39e3, "hold", LIMIT) is None  # type: ignore[arg-type]


def test_the_loss_of_every_likely_leak(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first is the value, least and most are the bounds; a millionth of the start is the solver's nought."""
    asked: list[Any] = []
    found: Any = SimpleNamespace(model="model")
    monkeypatch.setattr(loss, "_leak_alone_pa", lambda *given: asked.append(given) or given[1])
    monkeypatch.setattr(loss, "_passed_s", lambda *given: given)
    carried = loss._carried_on(found, (3e3, 4e3, 2e3), _hold(start_pa=-45e3), LIMIT)  # type: ignore[arg-type]
    assert (carried.measured, carried.basis, carried.from_pa) == (Interval(3e3, 2e3, 4e3), "model", 40e3)
    assert carried.from_s == (found, 40e3) and asked == [("model", x, 40e3, 60.0) for x in (3e3, 4e3, 2e3)]
    own = loss._carried_on(found, (3e3,), _hold(start_pa=-45e3), OPEN)  # type: ignore[arg-type]
    assert own.from_pa == 45e3 and own.from_s == (found, 45e3)
    for least, value in ((0.04, None), (0.041, 1.0)):
        unseen = loss._carried_on(found, (1.0, least, 2.0), _hold(), LIMIT)  # type: ignore[arg-type]
        assert unseen.measured == Interval(value, least if value else 0.0, 2.0)


def test_when_a_limit_s_start_was_passed(exponential: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """tau ln(45/40) after shutting; before it, by the leak alone with 30 s, the time from 48 down to 45 kPa."""
    monkeypatch.setattr(loss, "_alone_pa", lambda model, x, pa, t: pa * np.exp(-np.asarray(t) / 30.0))
    assert loss._passed_s(_found(45e3), 40e3) == pytest.approx(TAU * math.log(45.0 / 40.0), rel=1e-3)
    assert loss._passed_s(_found(45e3), 45e3) == 0.0
    assert loss._passed_s(_found(45e3), 48e3) == pytest.approx(-30.0 * math.log(48.0 / 45.0), rel=1e-3)
    assert loss._passed_s(_found(45e3), 45e3 * math.exp(-2.1)) is None
    monkeypatch.setattr(loss, "_alone_pa", lambda model, x, pa, t: np.full(len(t), pa))
    assert loss._passed_s(_found(45e3), 48e3) is None


def test_what_the_leak_alone_leaves(monkeypatch: pytest.MonkeyPatch) -> None:
    """A leak that grew by g a second took t (1 + g t / 2) of the time at its first size; one that shrank, t."""
    asked: list[Any] = []

    def settled(time_s: Any, leak: Any, inward: bool, opened: float, ambient: float) -> Any:
        asked.append((leak, inward, opened, ambient))
        return ambient + (opened - ambient) * np.exp(-time_s / 40.0)

    monkeypatch.setattr(loss, "settled_pressure", settled)
    for sign in (1.0, -1.0):
        model: Any = SimpleNamespace(ambient_pa=1e5, sign=sign, inward=sign < 0.0, leak=lambda x: ("leak", x[GROWTH]))
        for growth, grown in ((0.0, 60.0), (0.02, 96.0), (-0.02, 60.0)):
            x = np.zeros(len(NAMES))
            x[GROWTH] = growth
            left = 40e3 * math.exp(-grown / 40.0)
            assert loss._leak_alone_pa(model, x, 40e3, 60.0) == pytest.approx(40e3 - left)
            assert asked[-1] == (("leak", growth), sign < 0.0, 1e5 + sign * 40e3, 1e5)
    monkeypatch.setattr(loss, "settled_pressure", lambda t, leak, inward, opened, ambient: np.array([opened + 1.0]))
    model.sign = 1.0
    assert loss._leak_alone_pa(model, x, 40e3, 60.0) == 0.0


def test_when_half_is_gone(monkeypatch: pytest.MonkeyPatch) -> None:
    """tau ln 2 on the curve; beyond the hold by the leak alone from where it ended, of another 80 s."""
    monkeypatch.setattr(loss, "_alone_pa", lambda model, x, pa, t: pa * np.exp(-np.asarray(t) / 80.0))

    def half(tau_s: float, sign: float = 1.0, sized: Any = "sized", odd: Any = None, solved: bool = True) -> Any:
        def predict(x: Any, t: Any) -> Any:
            if not solved:
                raise NotSolved
            return sign * 40e3 * np.exp(-t / tau_s) + 500.0, None

        model = SimpleNamespace(
            readings=SimpleNamespace(time_s=np.array([0.0, 9.0, SPAN])),
            sign=sign, priors=SimpleNamespace(zero_pa=500.0),
            at_times=lambda t: SimpleNamespace(predict=lambda x: predict(x, t)),
        )  # fmt: skip
        found = SimpleNamespace(model=model, fit=SimpleNamespace(parameters=None))
        return loss.half_gone_s(SimpleNamespace(chosen=SimpleNamespace(found=found, sized=sized, odd=odd)))  # type: ignore[arg-type]

    for sign in (1.0, -1.0):
        assert half(50.0, sign) == pytest.approx(50.0 * math.log(2.0), rel=1e-3)
        # exp(-100/200) is left at the end: the rest down to a half takes the leak 80 (ln 2 - 1/2) s more
        assert half(200.0, sign) == pytest.approx(100.0 + 80.0 * (math.log(2.0) - 0.5), rel=2e-3)
    assert half(50.0, sized=None) is None and half(50.0, solved=False) is None
    assert half(200.0, odd="odd") is None and half(50.0, odd="odd") is not None
    monkeypatch.setattr(loss, "_alone_pa", lambda model, x, pa, t: np.full(len(t), pa))
    assert half(200.0) is None


def test_which_way_a_loss_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """On the curve, else from below, else carried on, for every likely shape; between readings without a fit."""
    first, second = (Loss(Interval(x, x - 1.0, x + 1.0), "reading", x, 10.0 * x) for x in (5.0, 7.0))
    ways: dict[str, Any] = {}
    monkeypatch.setattr(loss, "_read_off", lambda *given: ("read off", *given))
    monkeypatch.setattr(loss, "_on_curve", lambda found, hold, limit: ways["on", found, hold, limit])
    monkeypatch.setattr(loss, "_over_from_below", lambda found, hold, limit: ways["below", found, hold, limit])
    monkeypatch.setattr(loss, "_carried_on", lambda found, x, hold, limit: ways["carried", found, x, hold, limit])
    monkeypatch.setattr(loss, "mixed", lambda parts: parts)
    alike = [
        SimpleNamespace(weight=w, sized=SimpleNamespace(found=f, plausible=f"{f}s"))
        for w, f in ((0.7, "a"), (0.3, "b"))
    ]
    fitted: Any = SimpleNamespace(leak=None, chosen=SimpleNamespace(alike=alike))
    assert loss.settled_loss(LIMIT, fitted, "hold") == ("read off", LIMIT, fitted, "hold")  # type: ignore[arg-type, comparison-overlap]
    fitted.leak = "leak"

    def found(**by: Any) -> Any:
        ways.clear()
        for f in "ab":
            ways.update({("on", f, "hold", LIMIT): by.get(f"on_{f}"), ("below", f, "hold", LIMIT): by.get(f"below_{f}"),
                         ("carried", f, f"{f}s", "hold", LIMIT): by.get(f"carried_{f}")})  # fmt: skip
        return loss.settled_loss(LIMIT, fitted, "hold")  # type: ignore[arg-type]

    weighed = [(0.7, first.measured), (0.3, second.measured)]
    assert found(on_a=first, on_b=second) == Loss(weighed, "reading", 5.0, 50.0)  # type: ignore[arg-type]
    assert found(below_a=first, on_b=second) == Loss(weighed, "reading", 5.0, 50.0)  # type: ignore[arg-type]
    reckoned = replace(second, basis="model")
    assert found(on_a=first, carried_b=reckoned) == Loss(weighed, "model", 5.0, 50.0)  # type: ignore[arg-type]

    def unsolved(*_: Any) -> Any:
        raise NotSolved

    monkeypatch.setattr(loss, "_on_curve", unsolved)
    assert found() is None


def _read(t: Any, size: Any, noise: float = 0.0, closed: float = 0.0) -> Any:
    model = SimpleNamespace(readings=SimpleNamespace(noise_pa=noise, resolution_pa=0.0))
    return SimpleNamespace(
        part=SimpleNamespace(time_s=np.asarray(t, float)), size_pa=np.asarray(size, float),
        window=SimpleNamespace(closed_s=closed), chosen=SimpleNamespace(found=SimpleNamespace(model=model)),
    )  # fmt: skip


def test_plain_readings_over_a_limit_reckoned_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """From the last reading at or above the start, to the middle of the three lowest within the time, both ends in."""
    given_back: list[Any] = []
    monkeypatch.setattr(loss, "_given_back_pa", lambda fitted, *given: given_back.append(given) or 1000.0)
    rng, kinds = np.random.default_rng(3), set()
    for _ in range(250):
        n, closed = int(rng.integers(5, 30)), float(rng.integers(0, 20))
        t = closed + 2.0 * np.arange(n)
        size = 44e3 - 500.0 * np.cumsum(rng.integers(0, 4, n)) + 500.0 * rng.integers(-1, 2, n)
        noise = float(rng.choice([0.0, 250.0]))
        limit = replace(LIMIT, start_pa=None if rng.random() < 0.5 else 42e3, time_s=float(rng.choice([10.0, 20.0])))
        high = [k for k in range(n) if limit.start_pa is None or size[k] >= limit.start_pa]
        found = loss.plainly_over(limit, _read(t, size, noise, closed))
        if not high:
            assert found is None
            continue
        first = 0 if limit.start_pa is None else high[-1]
        start = limit.start_pa or float(size[0])
        within = sorted(float(x) for at, x in zip(t, size, strict=True) if t[first] <= at <= t[first] + limit.time_s)
        lost = start - float(np.median(within[:3]))
        half = Z * math.sqrt(2.0) * noise
        assert given_back[-1] == (start, t[first] - closed, limit.time_s)
        kinds.add((found is None, lost - half == 8e3, limit.start_pa is None))
        if lost - half <= 8e3:  # the limit's 7 and what is given back
            assert found is None
            continue
        assert found is not None and (found.basis, found.from_s, found.from_pa) == ("reading", t[first] - closed, start)
        assert found.measured.value == lost and found.measured.low == pytest.approx(lost - half)
        assert found.measured.high == pytest.approx(lost + half)
    assert len(kinds) >= 5


def test_what_may_be_given_back_reckoned_again() -> None:
    """Warm gas by its prior or by the isentropic bound, 1 K and 0.2 kPa a minute, 5 % of hose or a third of vapour."""
    rng = np.random.default_rng(4)
    for _ in range(40):
        inward = bool(rng.random() < 0.5)
        likely, deviation = float(rng.uniform(-0.2, 0.2)), float(rng.uniform(0.0, 0.03))
        asked: list[float] = []
        warmth = SimpleNamespace(
            likeliest=lambda tau, likely=likely, asked=asked: asked.append(tau) or likely,
            deviation=lambda tau, deviation=deviation, asked=asked: asked.append(tau) or deviation,
        )
        model = SimpleNamespace(ambient_pa=98e3, sign=-1.0 if inward else 1.0, inward=inward,
                                priors=SimpleNamespace(warmth=warmth))  # fmt: skip
        fitted: Any = SimpleNamespace(chosen=SimpleNamespace(found=SimpleNamespace(model=model)))
        size, after, time_s = (
            float(rng.uniform(5e3, 60e3)),
            float(rng.uniform(0.0, 30.0)),
            float(rng.uniform(5.0, 90.0)),
        )
        absolute = 98e3 - size if inward else 98e3 + size
        bound = abs((absolute / 98e3) ** (0.4 / 1.4) - 1.0)
        gas = absolute * min(bound, abs(likely) + Z * deviation) * math.exp(-after / 10.0)
        drift = (absolute / 293.15 + 200.0) * time_s / 60.0
        rest = 0.05 * size if not inward else max(0.05 * size, min(13e3, 0.35 * size))
        assert loss._given_back_pa(fitted, size, after, time_s) == pytest.approx(gas + drift + rest, rel=1e-4)
        assert asked == pytest.approx([math.log(10.0)] * 2)


def test_a_loss_between_readings_at_its_bounds() -> None:
    """40 kPa less 125 Pa a second from a hold that begins at 8 s, when it reads 39 kPa; 0.3 s may be missing."""
    t = np.arange(0.0, 81.0)
    fitted, hold = _read(t, 40e3 - 125.0 * t, 10.0), SimpleNamespace(start_s=8.0, end_s=68.0, closed_s=5.0)
    own = loss._read_off(OPEN, fitted, hold)  # type: ignore[arg-type]
    assert own is not None and (own.from_s, own.from_pa) == (3.0, pytest.approx(39e3))
    assert own.measured.value == pytest.approx(7500.0)
    lax = replace(OPEN, drop_pa=20e3)
    for time_s, there in ((60.0, True), (60.25, True), (60.5, False)):
        assert (loss._read_off(replace(lax, time_s=time_s), fitted, hold) is not None) is there  # type: ignore[arg-type]
    # 39 kPa is 95 % of 41 052.6; from more it has to be passed, and a start of 39 kPa is passed at once
    for start, from_pa in ((41.05e3, 39e3), (39e3, 39e3), (38.5e3, 38.5e3)):
        found = loss._read_off(replace(LIMIT, start_pa=start, time_s=30.0), fitted, hold)  # type: ignore[arg-type]
        assert found is not None and found.from_pa == pytest.approx(from_pa)
        assert found.from_s == pytest.approx((40e3 - from_pa) / 125.0 - 5.0)
    assert loss._read_off(replace(LIMIT, start_pa=41.06e3), fitted, hold) is None  # type: ignore[arg-type]
    # a hold that ends at 30 kPa: what lies after it is not the hold's
    assert loss._read_off(replace(LIMIT, start_pa=31e3), fitted, hold) is None  # type: ignore[arg-type]


def test_readings_right_at_the_ends_of_a_hold() -> None:
    """The hold's last reading counts; 95 % of the start is near enough; over is more than the limit; 0.3 s may miss."""
    t = np.arange(0.0, 81.0)
    hold: Any = SimpleNamespace(start_s=0.0, end_s=68.0, closed_s=0.0)
    fitted = _read(t, 38e3 - 100.0 * t)
    last = loss._read_off(replace(LIMIT, start_pa=31.25e3, drop_pa=1.0), fitted, hold)
    assert last is not None and last.from_s == pytest.approx(67.5) and last.measured.value == pytest.approx(50.0)
    near = loss._read_off(replace(LIMIT, start_pa=40e3, time_s=30.0), fitted, hold)
    assert near is not None and (near.from_s, near.from_pa) == (0.0, pytest.approx(38e3))
    for time_s, there in ((68.3, True), (68.4, False)):
        found = loss._read_off(replace(OPEN, time_s=time_s, drop_pa=20e3), fitted, hold)
        assert (found is not None) is there
    sparse = np.arange(0.0, 81.0, 20.0)  # no line through so few: 38 less 30 kPa is 8 to the last digit
    coarse = _read(sparse, 38e3 - 100.0 * sparse)
    hold.end_s = 80.0
    for drop, there in ((8e3, False), (7999.0, True)):
        found = loss._read_off(replace(OPEN, time_s=99.0, drop_pa=drop), coarse, hold)
        assert (found is not None) is there
    quarters = np.arange(0.0, 10.0, 0.25)  # from 4 to 6 s, both ends among them: nine readings
    assert loss._level(quarters, 100.0 - quarters, 5.0, 2.0)[1] == pytest.approx(2.0 / 3.0)
