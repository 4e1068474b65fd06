"""What is chosen, case by case, with stand-ins for the fits: which are made, which is shown, what its size rests on."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.fit import choose as choosing
from leakdown.fit.choose import (
    ChosenFit,
    Weighed,
    _climb_at_last,
    _climb_of_ends,
    _leaves_the_readings,
    choose,
    widened_by,
)
from leakdown.fit.leak import Vessel
from leakdown.fit.model import GROWTH, NAMES, OPENING, PRESSED, START, HoldModel
from leakdown.fit.search import correlation_widening
from leakdown.fit.shape import Jump, OddShape
from leakdown.physics.balance import NotSolved
from tests.fit.test_model_again import hold

VESSEL = Vessel(None, None, 293.15, 0.61)
T = np.linspace(0.0, 60.0, 13)
FALLS = hold(T, 40e3 * np.exp(-T / 100.0), 1e5, 1.0)
CLIMBS = hold(T, 40e3 + 60.0 * T, 1e5, 1.0)
JUMP = Jump(50.0, 300.0, 9.0, 25.0, np.zeros(13))


def fit(name: str, model: HoldModel = FALLS, converged: bool = True, misfit: float = 1.0) -> Any:
    """A fit that is nothing but its name; its parameters count up."""
    x = np.arange(float(len(NAMES)))
    inner = SimpleNamespace(converged=converged, parameters=x, residuals=np.zeros(13))
    return SimpleNamespace(name=name, model=model, fit=inner, misfit=misfit)


class Bench:
    """Stand-ins for all that `choose` asks, and the order in which it did."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.asked: list[Any] = []
        self.plain, self.looked, self.beside = fit("plain"), fit("looked"), fit("beside")
        self.weights: dict[str, float] = {"plain": 1.0}
        self.first_weights: dict[str, float] = {"plain": 1.0}
        self.jump: Jump | None = None
        self.look, self.complete, self.unsolved = False, True, False
        self.starts: list[Any] = []
        for name in ("search", "first_look", "begun", "finished", "plain_beside", "weights_of", "size", "mixed_leak"):
            monkeypatch.setattr(choosing, name, getattr(self, name))
        monkeypatch.setattr(choosing, "biggest_jump", lambda found: self.jump)
        monkeypatch.setattr(choosing, "worth_a_look", lambda found: self.look)

    def first_look(self, model: HoldModel) -> Any:
        self.asked.append("first look")
        return self.looked

    def search(self, model: HoldModel, shape: str = "plain", start: Any = None, looked: Any = None) -> Any:
        self.asked.append("search near" if start is not None else "search" if looked is self.looked else "?")
        self.starts.append(start)
        return self.plain

    def begun(self, model: HoldModel, plain: Any, whole: bool = True) -> dict[str, Any]:
        self.asked.append(f"begun at {plain.name}" + ("" if whole else ", unfinished"))
        return {shape: fit(f"begun {shape}") for shape in ("plain", "opening", "growth", "creep", "pressed")}

    def plain_beside(self, shapes: dict[str, Any]) -> Any:
        assert set(shapes) == {"plain", "opening", "growth", "creep", "pressed"}
        return self.beside

    def finished(self, shapes: dict[str, Any], plain: Any, jump: Any) -> dict[str, Any]:
        assert jump is self.jump and shapes["growth"].name == "begun growth"
        self.asked.append(f"finished beside {plain.name}")
        return {shape: plain if shape == "plain" else fit(shape) for shape in shapes}

    def weights_of(self, fits: dict[str, Any], jump: Any) -> dict[str, float]:
        assert jump is self.jump
        if fits["plain"] is self.beside and "finished beside beside" not in self.asked:
            return self.first_weights
        return self.weights if len(fits) > 1 else {"plain": 1.0}

    def size(self, found: Any, quote_pa: float, vessel: Vessel, closely: bool) -> Any:
        assert quote_pa == 35e3 and vessel is VESSEL
        if self.unsolved:
            raise NotSolved
        self.asked.append((found.name, closely))
        return SimpleNamespace(found=found, complete=self.complete)

    def mixed_leak(self, parts: Any, vessel: Vessel, quote_pa: float) -> Any:
        assert quote_pa == 35e3 and vessel is VESSEL
        return [(weight, sized.found.name) for weight, sized in parts]

    def chosen(self, model: HoldModel = FALLS, near: Any = None) -> Any:
        self.asked.clear()
        return choose(model, 35e3, VESSEL, near)


@pytest.fixture
def bench(monkeypatch: pytest.MonkeyPatch) -> Bench:
    return Bench(monkeypatch)


def test_a_plain_leak_is_only_sized(bench: Bench) -> None:
    found = bench.chosen()
    assert bench.asked == ["first look", "search", ("plain", True)]
    assert found.found is bench.plain and found.odd is None and found.rising_sigmas == 0.0
    assert found.sized == [(1.0, "plain")] and [(one.weight, one.shape) for one in found.alike] == [(1.0, "plain")]


def test_no_fit_no_size(bench: Bench) -> None:
    bench.plain.fit.converged = False
    assert bench.chosen() == ChosenFit(bench.plain, None, 0.0, None) and len(bench.asked) == 2
    bench.plain.fit.converged, bench.unsolved = True, True
    assert bench.chosen() == ChosenFit(bench.plain, None, 0.0, None)
    bench.unsolved, bench.complete = False, False
    found = bench.chosen()
    assert found.sized is None and len(found.alike) == 1


def test_a_climb_hides_what_is_behind_it(bench: Bench) -> None:
    """Sized as a plain leak, without a look at any shape."""
    bench.look, bench.weights = True, {"plain": 0.0, "step": 1.0}
    bench.plain = fit("plain", CLIMBS)
    found = bench.chosen(CLIMBS)
    assert found.rising_sigmas == pytest.approx(3600.0 / math.hypot(10.0, 10.0))
    assert found.sized == [(1.0, "plain")] and found.odd is None and "begun at plain" not in bench.asked


def test_shapes_are_begun_where_something_is_left(bench: Bench) -> None:
    """The likely ones are sized, closely from 15 % on; the plain one keeps its name down to a tenth."""
    bench.look = True
    bench.weights = dict(plain=0.04, opening=0.45, growth=0.351, pressed=0.15, creep=0.009)
    found = bench.chosen()
    assert bench.asked[:4] == ["first look", "search", "begun at plain", "finished beside plain"]
    assert bench.asked[4:] == [("opening", True), ("growth", True), ("pressed", False), ("plain", False)]
    assert found.found.name == "opening" and found.odd == OddShape("opening", float(OPENING))
    assert found.sized == [(0.45, "opening"), (0.351, "growth"), (0.15, "pressed"), (0.04, "plain")]
    assert [one.shape for one in found.alike] == ["opening", "growth", "pressed", "plain"]
    bench.weights = dict(plain=0.11, opening=0.5, growth=0.01, pressed=0.2, creep=0.18)
    found = bench.chosen()
    assert [one.shape for one in found.alike] == ["plain", "opening", "pressed", "creep", "growth"]
    assert found.odd is None and bench.asked[4] == ("plain", True) and bench.asked[-1] == ("growth", False)
    for shape, size in (("growth", float(GROWTH)), ("pressed", float(PRESSED)), ("creep", 0.0)):
        bench.weights = dict.fromkeys(("plain", "opening", "growth", "pressed", "creep"), 0.0) | {shape: 1.0}
        bench.unsolved = False
        assert bench.chosen().odd == OddShape(shape, size)
        bench.unsolved = True
        lost = bench.chosen()
        assert (lost.found.name, lost.odd, lost.rising_sigmas) == (shape, OddShape(shape, size), 0.0)
        assert lost.sized is None and lost.alike == ()


def test_a_slip_of_the_gauge_is_more_likely_than_not(bench: Bench) -> None:
    bench.look, bench.jump = True, JUMP
    bench.weights = dict(plain=0.38, opening=0.02, growth=0.0, pressed=0.0, creep=0.0, step=0.6)
    found = bench.chosen()
    assert found.odd == OddShape("step", 300.0, 25.0) and found.sized == [(1.0, "plain")]
    assert found.found is bench.plain and [one.weight for one in found.alike] == [1.0]
    bench.weights |= {"plain": 0.48, "step": 0.5}
    assert bench.chosen().odd is None
    bench.weights |= {"step": 0.56, "plain": 0.42}
    assert bench.chosen().odd is not None


def test_a_poor_first_look_begins_the_shapes_before_the_plain_one_is_done(bench: Bench) -> None:
    """From a misfit of 2 on, six readings at least; the plain one is left where it has no millionth."""
    unfinished = ["first look", "begun at looked, unfinished"]
    bench.weights = dict(plain=0.0, opening=1.0, growth=0.0, pressed=0.0, creep=0.0)
    for misfit, poor in ((1.9, False), (2.0, True), (50.0, True)):
        bench.looked = fit("looked", misfit=misfit)
        for plain, step, odd in ((0.0, 0.0, True), (0.9e-6, 0.0, True), (1.1e-6, 0.0, False), (0.0, 0.3, False)):
            bench.first_weights = {"plain": plain, "step": step, "opening": 1.0 - plain - step}
            bench.look = False
            found = bench.chosen()
            if poor and odd:
                assert bench.asked == [*unfinished, "finished beside beside", ("opening", True)]
                assert found.found.name == "opening"
            elif poor:
                assert bench.asked == [*unfinished, "search", ("plain", True)]
            else:
                assert bench.asked[:2] == ["first look", "search"] and unfinished[1] not in bench.asked
    bench.first_weights, bench.look = {"plain": 0.5, "opening": 0.5}, True
    bench.chosen()  # what was begun is not begun again
    assert bench.asked[:4] == [*unfinished, "search", "finished beside plain"]
    bench.first_weights = {"plain": 0.0, "opening": 1.0}
    bench.beside.fit.converged = False
    assert bench.chosen().found.name == "opening"
    bench.beside = fit("beside", CLIMBS)
    bench.chosen()
    assert bench.asked[:3] == [*unfinished, "search"]
    few = hold(T[:5], FALLS.readings.pressure_pa[:5], 1e5, 1.0)
    bench.chosen(few)
    assert bench.asked[:2] == ["first look", "search"]
    six = hold(T[:6], FALLS.readings.pressure_pa[:6], 1e5, 1.0)
    bench.chosen(six)
    assert bench.asked[:2] == unfinished


def test_other_air_begins_where_the_first_ended(bench: Bench) -> None:
    """Its start is moved by what the air is heavier; only for a plain leak that had a size."""
    found = fit("near")
    before = found.fit.parameters.copy()
    sized: Any = object()
    air = hold(T, FALLS.readings.pressure_pa, 92e3, 1.0)
    near = ChosenFit(found, None, 0.0, sized)
    bench.chosen(air, near)
    assert bench.asked[0] == "search near" and "first look" not in bench.asked
    moved = bench.starts[-1] - before
    assert moved[START] == 92e3 - 1e5 and np.count_nonzero(moved) == 1
    assert np.array_equal(found.fit.parameters, before)
    bench.plain.fit.converged = False
    bench.chosen(air, near)
    assert bench.asked == ["search near", "first look", "search"]
    bench.plain.fit.converged = True
    for other in (ChosenFit(found, OddShape("creep", 0.0), 0.0, sized), ChosenFit(found, None, 0.0, None), None):
        bench.chosen(air, other)
        assert bench.asked[0] == "first look"


# ---------------------------------------------------------------- what is far off, and what climbs


def test_far_from_the_readings_by_hand() -> None:
    """Root mean square of reading less fit beyond 1 % of the first reading's magnitude, and a misfit beyond 25."""
    rng = np.random.default_rng(1)
    for _ in range(60):
        sigma, r = rng.uniform(5.0, 40.0, 20), np.append(rng.normal(0.0, 20.0, 20), [500.0] * 3)
        p = rng.choice([-1.0, 1.0]) * np.linspace(rng.uniform(20e3, 60e3), 1e3, 20)
        misfit, noise = rng.uniform(15.0, 40.0), rng.choice([0.0, 3.0])
        readings = SimpleNamespace(time_s=np.arange(20.0), sigma_pa=sigma, pressure_pa=p, noise_pa=noise)
        found: Any = SimpleNamespace(
            model=SimpleNamespace(readings=readings), fit=SimpleNamespace(residuals=r), misfit=misfit
        )
        away = math.sqrt(float(np.mean((r[:20] * sigma) ** 2)))
        assert _leaves_the_readings(found) is bool(noise > 0.0 and misfit > 25.0 and away > 0.01 * abs(p[0]))


def test_climbs_of_scattered_readings_by_hand() -> None:
    """Ends by their own deviations; the last half by numpy's weighted line, its scatter and correlation counted."""
    rng = np.random.default_rng(2)
    seen = 0
    for case in range(60):
        n, sign = int(rng.integers(5, 90)), rng.choice([-1.0, 1.0])
        t = np.sort(rng.uniform(0.0, 60.0, n))
        sigma = rng.uniform(5.0, 60.0, n)
        p = 20e3 + rng.uniform(-10.0, 25.0) * t + sigma * rng.choice([0.5, 3.0]) * rng.normal(size=n)
        if case % 3 == 0:
            p = p + 300.0 * np.sin(t / 3.0)
        readings = SimpleNamespace(time_s=t, sigma_pa=sigma, pressure_pa=sign * p)
        model: Any = SimpleNamespace(readings=readings, sign=sign)
        ends = max(p[-1] - p[0], 0.0) / math.hypot(sigma[0], sigma[-1]) if p[-1] > 1.02 * p[0] else 0.0
        assert _climb_of_ends(model) == pytest.approx(ends)
        late = t >= 0.5 * t[-1]
        wanted = 0.0
        if late.sum() >= 3:
            line, cov = np.polyfit(t[late], p[late], 1, w=1.0 / sigma[late], cov="unscaled")
            left = (p[late] - np.polyval(line, t[late])) / sigma[late]
            scatter = max(float(left @ left) / max(late.sum() - 2.0, 1.0), 1.0) * correlation_widening(left)
            wanted = line[0] / math.sqrt(cov[0, 0] * scatter) if line[0] * 60.0 >= 120.0 else 0.0
        seen += wanted > 0.0
        assert _climb_at_last(SimpleNamespace(model=model)) == pytest.approx(wanted, rel=1e-6, abs=1e-9)  # type: ignore[arg-type]
    assert seen > 10
    three = SimpleNamespace(time_s=np.array([0.0, 10.0, 40.0, 60.0]), sigma_pa=np.ones(4), pressure_pa=T[:4] * 100.0)
    assert _climb_at_last(SimpleNamespace(model=SimpleNamespace(readings=three, sign=1.0))) == 0.0  # type: ignore[arg-type]


def test_another_view_counts_as_far_as_it_fits(bench: Bench) -> None:
    """exp(-chi2/2) of what it is behind, over the smaller scatter of both; what is left of 1 % goes out."""

    def view(name: str, cost: float, misfit: float, weights: dict[str, float]) -> ChosenFit:
        found = fit(name, misfit=misfit)
        found.cost = cost
        alike = tuple(Weighed(w, s, SimpleNamespace(found=fit(f"{name} {s}"))) for s, w in weights.items())  # type: ignore[arg-type]
        return ChosenFit(found, None, 0.0, object(), alike)  # type: ignore[arg-type]

    mine = view("mine", 100.0, 4.0, {"plain": 0.9, "growth": 0.1})
    other = view("other", 106.0, 2.0, {"plain": 0.97, "creep": 0.03})
    behind = 0.5 * 6.0 / 2.0
    share = math.exp(-behind) / (1.0 + math.exp(-behind))
    found = widened_by(mine, other, VESSEL, 35e3)
    assert found.found is mine.found and [one.shape for one in found.alike] == ["plain", "growth", "plain"]
    weights = [0.9 * (1.0 - share), 0.1 * (1.0 - share), 0.97 * share]
    assert [one.weight for one in found.alike] == pytest.approx(weights)
    assert [name for _, name in found.sized] == ["mine plain", "mine growth", "other plain"]  # type: ignore[union-attr]
    ahead = widened_by(other, mine, VESSEL, 35e3)  # a better one counts no more than half
    assert [one.weight for one in ahead.alike] == pytest.approx([0.485, 0.015, 0.45, 0.05])
