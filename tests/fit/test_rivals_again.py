"""The odd shapes' way with stand-ins for their fits: where each begins, who falls out, who is finished; the odds."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from leakdown.fit import rivals
from leakdown.fit.model import GROWTH, NAMES, OPENING, RATE
from leakdown.fit.rivals import begun, finished, log_evidence, plain_beside, prior_of, scatter_of, weights_of
from leakdown.fit.search import at_scatter, correlation_widening, likeliest_start
from leakdown.fit.shape import Jump
from tests.fit.test_search_again import noisy


def fit(name: str, scatter: float = 1.0, converged: bool = True, cost: float = 0.0, **more: Any) -> Any:
    """A fit of thirteen readings that scatter so about it."""
    inner = SimpleNamespace(
        converged=converged,
        parameters=np.arange(1.0, len(NAMES) + 1.0),
        residuals=np.zeros(13),
        iterations=more.pop("iterations", 9),
        chi2=more.pop("chi2", 0.0),
    )
    asked: list[float] = more.pop("asked", [])
    model = SimpleNamespace(
        name=name,
        readings=SimpleNamespace(time_s=np.arange(13.0)),
        with_sigma=lambda factor: asked.append(factor) or SimpleNamespace(name=f"{name} as read"),
    )
    return SimpleNamespace(
        name=name, model=model, fit=inner, misfit=scatter, cost=cost, inflation=more.pop("inflation", 1.0)
    )


@pytest.fixture
def odds(monkeypatch: pytest.MonkeyPatch) -> dict[str, float]:
    """log-evidence of each fit by its name, 0 where nothing is said."""
    of: dict[str, float] = {}
    monkeypatch.setattr(rivals, "log_evidence", lambda found, scatter: of.get(found.name, 0.0))
    return of


BENT = ("opening", "growth", "pressed", "creep")
PRIOR = dict(plain=0.84, opening=0.04, growth=0.02, pressed=0.04, creep=0.04)


def test_odds_by_hand(odds: dict[str, float]) -> None:
    """Prior times evidence, a sum of one; the jump's of its score, its size among 1 kPa and its places."""
    for seed in range(30):
        rng = np.random.default_rng([1, seed])
        fits = {shape: fit(shape, rng.uniform(0.5, 5.0)) for shape in PRIOR}
        odds |= {shape: rng.normal(0.0, 4.0) for shape in PRIOR}
        least = min(max(one.misfit, 1.0) for one in fits.values())
        product = {shape: PRIOR[shape] * math.exp(odds[shape]) for shape in PRIOR}
        jump = None
        if seed % 2:
            leftover = rng.normal(0.0, rng.choice([0.5, 2.0]), 13)
            jump = Jump(rng.uniform(1.0, 30.0), 250.0, rng.uniform(5.0, 40.0), 20.0, leftover)
            for one in fits.values():
                one.dof = 11.0
            least = min(least, max(float(leftover @ leftover) / 9.0, 1.0))
            gain = math.exp(0.5 * jump.score / least) * jump.sd_pa * math.sqrt(least) / 1000.0 / 13.0
            product["step"] = product["plain"] * gain * 0.02 / 0.84
        found = weights_of(fits, jump)
        assert found == pytest.approx({shape: value / sum(product.values()) for shape, value in product.items()})
    assert sum(prior_of(shape) for shape in (*PRIOR, "step")) == pytest.approx(1.0)


def test_the_readings_scatter_no_less_than_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[float] = []
    monkeypatch.setattr(rivals, "log_evidence", lambda found, scatter: asked.append(scatter) or 0.0)
    fits = {"plain": fit("plain", 7.0), "creep": fit("creep", 3.0)}
    weights_of(fits, None)
    weights_of(fits, None, 100.0)
    assert asked == [3.0, 3.0, 100.0, 100.0]


def test_the_scatter_about_a_fit() -> None:
    """Reduced chi2, widened for correlation of the readings' residuals alone, one at least."""
    rng = np.random.default_rng(3)
    slow = np.repeat(rng.normal(size=20), 3)
    r = np.append(slow, rng.normal(0.0, 50.0, 5))
    found: Any = SimpleNamespace(
        model=SimpleNamespace(readings=SimpleNamespace(time_s=np.arange(60.0))),
        fit=SimpleNamespace(residuals=r),
        misfit=2.0,
    )
    assert scatter_of(found) == pytest.approx(2.0 * correlation_widening(slow)) and correlation_widening(slow) > 2.0
    found.misfit = 0.1
    assert scatter_of(found) == 1.0


@pytest.mark.parametrize("shape", ["plain", "opening", "growth"])
def test_evidence_of_a_real_fit_put_together_again(monkeypatch: pytest.MonkeyPatch, shape: str) -> None:
    """Height, priors of rate, opening and growth (densities), the known priors' widths and the volume (own test)."""
    volumes: list[Any] = []
    monkeypatch.setattr(rivals, "log_volume", lambda *args: volumes.append(args) or 0.5)
    model = noisy().in_shape(shape)
    found = replace(at_scatter(model, shape, likeliest_start(model), 4.0), misfit=1.7)
    x = found.fit.parameters.copy()
    x[GROWTH] = 0.01 if shape == "growth" else 0.0
    found = replace(found, fit=replace(found.fit, parameters=x))
    for scatter in (1.0, 2.5):
        volumes.clear()
        wanted = -0.5 * (1.7 * found.dof / scatter + found.on_priors) - math.log(x[RATE] + 20.0) + 0.5
        wanted -= float(np.sum(np.log(found.model.prior_sd(x))))
        if shape == "opening":
            wanted -= math.log(found.upper[OPENING])
        if shape == "growth":
            wanted += math.log(60.0 * stats.norm.pdf(0.01 * 60.0, scale=5.0))
        assert log_evidence(found, scatter) == pytest.approx(wanted)
        residuals, jacobian, at, lower, upper = volumes[0]
        share = np.append(np.full(61, math.sqrt(4.0 / scatter)), np.ones(residuals.size - 61))
        assert residuals == pytest.approx(found.fit.residuals * share)
        assert jacobian == pytest.approx(found.fit.jacobian * share[:, None])
        assert at is x and lower is found.lower and upper is found.upper


# ---------------------------------------------------------------- the way of the shapes


class Way:
    """Stand-in for the quick fits: `scatter[shape]` is what each leaves, and what was asked is kept."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.asked: list[tuple[str, float, int]] = []
        self.scatter: dict[str, float] = {}
        self.moving: set[str] = set()
        self.quick: dict[str, int] = {}
        self.starts: dict[str, list[np.ndarray]] = {}
        monkeypatch.setattr(rivals, "at_scatter", self.at_scatter)

    def at_scatter(self, model: Any, shape: str, start: np.ndarray, scatter: float, most: int = 10) -> Any:
        self.asked.append((shape, scatter, most))
        self.starts.setdefault(shape, []).append(start.copy())
        return fit(
            shape,
            self.scatter.get(shape, 1.0),
            shape not in self.moving,
            chi2=float(len(self.asked)),
            iterations=self.quick.get(shape, 9),
            inflation=scatter,
        )


@pytest.fixture
def way(monkeypatch: pytest.MonkeyPatch) -> Way:
    return Way(monkeypatch)


def test_all_shapes_begin_where_the_readings_scatter_far(way: Way, odds: dict[str, float]) -> None:
    """At what they scatter about the plain fit, a hundred at least and ten thousand at most; the best start counts."""
    model = noisy()
    way.scatter = dict.fromkeys(BENT, 1.5)  # not there yet: from the plain fit as well
    for plain, scatter in ((1.0, 100.0), (700.0, 700.0), (1e6, 1e4)):
        way.asked.clear()
        begun(model, fit("plain", plain))
        first = [(shape, at) for shape, at, most in way.asked if most == 5]
        near = plain < 30.0
        assert first == [(s, scatter) for s in BENT for _ in range(1 + near)]
        assert ("opening", 10.0 * scatter, 10) in way.asked  # to where it closes, from further yet
    way.asked.clear()
    way.scatter = dict.fromkeys(BENT, 1.3)
    begun(model, fit("plain", 1.0))
    assert [shape for shape, _, most in way.asked if most == 5] == [*BENT]


def test_where_each_shape_begins(way: Way, odds: dict[str, float]) -> None:
    """Closing at 0.6 of the last reading, growing by six times itself in the hold, else as the gas is likeliest."""
    model = noisy()
    plain = fit("plain", 3.0)
    way.scatter = dict.fromkeys(BENT, 1.5)
    begun(model, plain)
    last, likeliest = abs(float(model.readings.pressure_pa[-1])), likeliest_start(model)
    far, _, near = way.starts["opening"][:3]
    assert far == pytest.approx(model.start_closing(0.6 * last))
    wanted = plain.fit.parameters.copy()
    wanted[OPENING], wanted[RATE] = 0.6 * last, 2.0 * wanted[RATE]
    assert near == pytest.approx(wanted)
    grows = likeliest.copy()
    grows[GROWTH], grows[RATE] = 6.0 / 60.0, likeliest[RATE] / 4.0  # as fast as that on the average
    assert way.starts["growth"][0] == pytest.approx(grows)
    for shape in ("growth", "pressed", "creep"):
        assert way.starts[shape][1] == pytest.approx(plain.fit.parameters)
    for shape in ("pressed", "creep"):
        assert way.starts[shape][0] == pytest.approx(likeliest)


def test_what_cannot_be_likely_falls_out(way: Way, odds: dict[str, float]) -> None:
    """Below a thousandth, or a millionth while it still moves, 3 in a thousand at last; the plain leak never."""
    model = noisy()
    for weight, moving, stays in ((4e-3, False, True), (5e-4, False, False), (4e-3, True, True), (5e-7, True, False)):
        way.moving = {"creep"} if moving else set()
        odds.clear()
        odds |= {"plain": -40.0, "opening": -40.0, "growth": -40.0, "pressed": 0.0}
        odds["creep"] = math.log(weight)  # of the same prior as "pressed"
        way.quick = {"creep": 1}
        left = begun(model, fit("plain", 1.0))
        assert set(left) == {"plain", "pressed"} | ({"creep"} if stays else set())
    for weight, at_last in ((5e-4, 1.0), (5e-7, 100.0)):
        way.asked.clear()
        odds["creep"] = math.log(weight)
        assert "creep" not in begun(model, fit("plain", 1.0))
        assert min(at for shape, at, _ in way.asked if shape == "creep") == at_last


def test_readings_are_believed_ever_more(way: Way, odds: dict[str, float]) -> None:
    """A tenth of the scatter at each round, down to what the best leaves, and not where 1.4 of that is reached."""
    model = noisy()
    way.moving = {"creep"}  # never arrives
    odds |= dict.fromkeys(("opening", "growth", "pressed"), -40.0)
    for best, rounds in ((1.0, [10.0, 1.0]), (5.0, [10.0, 5.0]), (9.0, [10.0]), (7.0, [10.0, 7.0]), (90.0, [])):
        way.asked.clear()
        way.scatter = {"creep": best}
        way.quick = {"creep": 1}
        left = begun(model, fit("plain", 99.0))
        assert [at for _, at, most in way.asked if most == 10][1:] == pytest.approx(rounds)
        assert set(left) == {"plain", "creep"} and left["plain"].misfit == 99.0  # it is done, and stays as it was
    way.asked.clear()
    way.scatter, way.quick = {"creep": 1.0}, {}
    begun(model, fit("plain", 99.0))  # one that goes on moving at the same scatter: eight rounds at most
    assert [at for _, at, most in way.asked if most == 10][1:] == pytest.approx([10.0] + [1.0] * 7)


def test_a_plain_leak_that_was_only_looked_at_goes_the_same_way(way: Way, odds: dict[str, float]) -> None:
    """Until it is out of the question."""
    model = noisy()
    odds |= dict.fromkeys(("opening", "growth", "pressed"), -60.0)
    for plain, goes in ((0.0, True), (-10.0, True), (-18.0, False)):  # e^-18 times 0.84/0.04: a third of a millionth
        odds["plain"] = plain
        way.asked.clear()
        begun(model, fit("plain", 99.0), whole=False)
        assert way.asked[0] == ("plain", 100.0, 10)
        assert (("plain", 10.0, 10) in way.asked) is goes and ("creep", 10.0, 10) in way.asked


def test_the_plain_leak_as_the_best_shape_sees_the_gas(way: Way) -> None:
    """A few steps from there without its own number; the cheaper of both fits."""
    asked: list[float] = []
    plain, best = fit("plain", 50.0, cost=7.0, inflation=9.0, asked=asked), fit("growth", 2.0)
    found = plain_beside({"plain": plain, "creep": fit("creep", 8.0), "growth": best})
    assert found.name == "plain" and found is not plain and way.asked == [("plain", 2.0, 5)]
    start = way.starts["plain"][0]
    assert start[OPENING] == start[GROWTH] == 0.0 and asked == [pytest.approx(1.0 / 3.0)]
    others = [k for k in range(len(NAMES)) if k not in (OPENING, GROWTH)]
    assert np.array_equal(start[others], best.fit.parameters[others]) and best.fit.parameters[GROWTH] != 0.0
    plain.cost = -1.0
    assert plain_beside({"plain": plain, "growth": best}) is plain


def test_who_is_finished(monkeypatch: pytest.MonkeyPatch, odds: dict[str, float]) -> None:
    """Those that weigh more than 15 %, one after the other as the odds move; what did not arrive stays as it was."""
    asked: list[tuple[str, str]] = []

    def search(model: Any, shape: str, start: np.ndarray, scatter: float) -> Any:
        asked.append((model.name, shape))
        assert scatter == 1.0
        assert np.array_equal(start, np.arange(1.0, len(NAMES) + 1.0))
        return fit(f"whole {shape}", converged=shape != "pressed")

    monkeypatch.setattr(rivals, "search", search)
    shapes = {s: fit(s) for s in ("plain", "opening", "growth", "pressed")} | {"creep": fit("creep", converged=False)}
    plain = fit("done")
    odds |= {"done": -9.0, "opening": 3.0, "growth": -9.0, "pressed": 3.0, "whole opening": -9.0, "creep": 99.0}
    found = finished(shapes, plain, None)
    assert asked == [("opening as read", "opening"), ("pressed as read", "pressed")]
    assert found["plain"] is plain and found["opening"].name == "whole opening"
    assert found["pressed"].name == "pressed" and found["growth"] is shapes["growth"] and "creep" not in found
    asked.clear()
    odds |= {"pressed": -9.0, "opening": 3.0, "growth": 2.0}  # opening falls back once it is whole: growth is next
    finished(shapes, plain, None)
    assert [shape for _, shape in asked] == ["opening", "growth"]
    for share, is_finished in ((0.16, True), (0.14, False)):
        asked.clear()
        odds |= dict.fromkeys(("opening", "pressed"), -99.0)
        odds |= {"done": 0.0, "growth": math.log(share / (1.0 - share) * 0.84 / 0.02), "whole growth": 0.0}
        finished(shapes, plain, None)
        assert bool(asked) is is_finished
