"""Section shares: leaks add, volumes differ, and what cannot be told apart is said."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import scipy.optimize

from leakdown.judge.analyse import fitted
from leakdown.recording import Conditions, Recording
from leakdown.where.locate import locate_fitted
from leakdown.where.located import SectionShare
from leakdown.where.sections import nonnegative, section_shares
from leakdown.where.tests import contents, sort_tests
from tests.where.engines import Engine, Leak, fitted_once, run

THREE = ("boot", "seals", "base")


def _shares(recordings: list[Recording]) -> dict[str, SectionShare]:
    tests = [fitted(r) for r in recordings]
    inside = contents([r.conditions for r in recordings], [h.analysis.circuit for h in tests])
    return {s.section: s for s in section_shares(tests, inside)[0]}


def _engine(rng: np.random.Generator) -> Engine:
    part = rng.dirichlet([1.5, 1.5, 1.5])
    rate = 35e3 / rng.uniform(40, 250)
    ratios = (rng.uniform(0.4, 1.2), rng.uniform(1.5, 4.0), 1.0)
    leaks = [Leak(rate * w, s, r, name) for w, s, r, name in zip(part, (0.0, 1.0, 0.5), ratios, THREE, strict=True)]
    volume = rng.uniform(120e-6, 400e-6)
    return Engine(tuple(leaks), rng.uniform(85e3, 102e3), volume, volume * rng.uniform(0.08, 0.18))


def _true_share(engine: Engine, sign: float) -> float:
    from tests.fit.truth import throughput

    p = engine.ambient_pa + sign * 35e3
    flows = []
    for section in THREE:
        k, a = engine.per_volume(sign, (section,), engine.volume_m3)
        flows.append(abs(throughput(p, engine.ambient_pa, k, a)))
    return flows[0] / sum(flows)


@pytest.mark.slow
def test_three_leaking_sections_whole_and_boot_blocked(full: bool) -> None:
    """Both directions: the boot's share within 2 points in the median, interval at 90 % or more."""
    wrong, inside = [], []
    for seed in range(20 if full else 5):
        rng = np.random.default_rng(seed)
        engine = _engine(rng)
        recordings = [
            run(engine, rng, sign, sections=s, named=True) for sign in (1.0, -1.0) for s in (THREE, THREE[1:])
        ]
        boot = _shares(recordings)["boot"]
        assert boot.separable
        for sign, (_, interval) in zip((1.0, -1.0), boot.shares, strict=True):
            truth = _true_share(engine, sign)
            assert interval.value is not None
            wrong.append(abs(interval.value - truth))
            inside.append(interval.low <= truth <= interval.high)
    assert np.median(wrong) < 0.02
    assert np.mean(inside) >= 0.9


def test_loss_alone_would_be_wrong() -> None:
    """A tight boot, blocked: the smaller volume loses faster, and the share is still none."""
    rng = np.random.default_rng(2)
    engine = Engine((Leak(300.0, 0.5, 1.0, "seals"),), volume_m3=240e-6, boot_m3=35e-6)
    recordings = [run(engine, rng, 1.0, sections=s, named=True) for s in (THREE, THREE[1:])]
    boot = dict(_shares(recordings)["boot"].shares)["pressure"]
    assert boot.value is not None and boot.value < 0.02 and boot.low == 0.0


def test_what_cannot_be_told_apart_is_a_group() -> None:
    rng = np.random.default_rng(3)
    engine = _engine(rng)
    found = _shares([run(engine, rng, 1.0, sections=s, named=True) for s in (THREE, THREE[1:])])
    assert found["boot"].separable and not found["seals"].separable
    assert found["seals"].with_ == ("base",) and found["base"].with_ == ("seals",)
    share = dict(found["seals"].shares)["pressure"]
    assert share.value is None and share.low == 0.0
    together = dict(found["seals"].together)["pressure"]
    assert together.value == pytest.approx(1.0 - (dict(found["boot"].shares)["pressure"].value or 0.0), abs=0.01)


def test_missing_volume_widens() -> None:
    rng = np.random.default_rng(4)
    engine = _engine(rng)
    recordings = [run(engine, rng, 1.0, sections=s, named=True) for s in (THREE, THREE[1:])]
    exact = dict(_shares(recordings)["boot"].shares)["pressure"]
    rng = np.random.default_rng(4)
    engine = _engine(rng)
    blind = [run(engine, rng, 1.0, sections=s, named=True, volume_m3=None) for s in (THREE, THREE[1:])]
    wide = dict(_shares(blind)["boot"].shares)["pressure"]
    assert wide.high - wide.low > 2.0 * (exact.high - exact.low)


def test_contents_from_blocked_and_rig() -> None:
    inside = contents([Conditions(), Conditions(blocked=("boot",)), Conditions()], ["crankcase", "crankcase", "rig"])
    assert inside.named
    assert inside.tests == (frozenset({"boot", "rest", "rig"}), frozenset({"rest", "rig"}), frozenset({"rig"}))
    assert not contents([Conditions(), Conditions()], ["crankcase", "crankcase"]).named


def test_nonnegative_agrees_with_scipy() -> None:
    rng = np.random.default_rng(5)
    for _ in range(50):
        a, b = rng.normal(size=(6, 4)), rng.normal(size=6)
        x, chi2 = nonnegative(a, b)
        expected, norm = scipy.optimize.nnls(a, b)
        assert x == pytest.approx(expected, abs=1e-9) and chi2 == pytest.approx(norm**2, abs=1e-9)


def test_nonnegative_is_at_the_minimum_of_degenerate_problems_too() -> None:
    """Kuhn and Tucker: x >= 0, no gradient where x > 0, none downhill where x = 0."""
    rng = np.random.default_rng(6)
    for _ in range(300):
        n, m = (int(k) for k in rng.integers(1, 7, 2))
        a = (rng.random((n, m)) < 0.6) * 10.0 ** rng.uniform(-2, 2)
        if rng.random() < 0.5:
            a = np.vstack((a, rng.normal(size=m) * 1e4 * np.linalg.norm(a)))
        b = rng.normal(size=a.shape[0]) + a.sum(axis=1)
        x, _ = nonnegative(a, b)
        slope = a.T @ (b - a @ x) / max(float(np.abs(a.T @ b).max()), 1e-30)
        assert (x >= 0.0).all() and slope.max() < 1e-7 and np.abs(slope[x > 0.0]).max(initial=0.0) < 1e-7


def test_a_rig_test_with_its_volume_makes_the_rig_a_section() -> None:
    """Truth: the rig passes a tenth; its small volume makes it fall much faster than the engine."""
    rng = np.random.default_rng(6)
    engine = Engine((Leak(270.0, 0.5), Leak(30.0, 0.5, 1.0, "rig")), volume_m3=250e-6)
    whole = run(engine, rng, 1.0, sections=("boot", "case", "rig"))
    alone = Engine((Leak(30.0 * 250.0 / 15.0, 0.5),), volume_m3=15e-6, circuit="rig")
    rig = dict(_shares([whole, run(alone, rng, 1.0)])["rig"].shares)["pressure"]
    assert rig.value == pytest.approx(0.1, abs=0.01) and rig.low < 0.1 < rig.high


@cache
def _twice() -> tuple[Recording, Recording]:
    rng = np.random.default_rng(4)
    engine = _engine(rng)
    return run(engine, rng, 1.0), run(engine, rng, 1.0)


@pytest.mark.parametrize(
    ("blocked", "out", "asked"),
    [
        (("exhaust", "carb"), (), False),
        (("the exhaust port and carburettor",), (), False),
        (("boot",), ("boot",), False),
        (("exhaust", "Intake boot"), ("Intake boot",), False),
        (("left hole",), ("left hole",), True),
    ],
)
def test_the_set_up_and_what_was_taken_out_are_told_apart(blocked, out, asked) -> None:
    log, second = _twice()
    other = replace(second, source="second.csv", conditions=replace(second.conditions, blocked=blocked))
    both = [fitted_once(log), fitted_once(other)]
    tests = sort_tests(both)
    assert tests.inside.blocked[-1 if tests.all[-1].analysis.recording.source == "second.csv" else 0] == out
    found = locate_fitted(both)
    assert ("ask-blocked" in {flag.code for flag in found.warnings}) is asked
