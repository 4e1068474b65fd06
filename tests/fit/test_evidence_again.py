"""Evidence, jumps and looks, written a second time: densities by scipy, every refit by numpy's least squares."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from leakdown.fit.evidence import _BOX, log_volume
from leakdown.fit.least_squares import Fit
from leakdown.fit.model import GROWTH, OPENING, RATE, START
from leakdown.fit.search import HoldFit, correlation_widening, search
from leakdown.fit.shape import Jump, biggest_jump, scatter_after, worth_a_look
from tests.fit.test_search_again import noisy


def test_the_volume_formula_in_several_numbers() -> None:
    """Laplace's with a box on each: determinant and marginal deviations by numpy, parts inside by scipy's density."""
    for seed in range(40):
        rng = np.random.default_rng([6, seed])
        jac, x = rng.normal(size=(8, 4)) * 10.0 ** rng.uniform(-1.0, 1.0, 4), rng.normal(size=4)
        lower, upper = x - rng.uniform(0.05, 3.0, 4), x + rng.uniform(0.05, 3.0, 4)
        held = seed % 5
        if held < 4:
            lower[held] = upper[held] = x[held]
        moves = [k for k in range(4) if k != held]
        width = (upper - lower)[moves]
        scaled = (jac[:, moves] * width).T @ (jac[:, moves] * width) + 2.0 * math.pi * np.eye(len(moves))
        sd = np.sqrt(np.diag(np.linalg.inv(scaled))) * width
        wanted = 0.5 * math.log((2.0 * math.pi) ** len(moves) / np.linalg.det(scaled)) + np.sum(np.log(width))
        inside = stats.norm.cdf((upper - x)[moves] / sd) - stats.norm.cdf((lower - x)[moves] / sd)
        wanted += float(np.sum(np.log(inside)))
        assert log_volume(rng.normal(size=8), jac, x, lower, upper) == pytest.approx(wanted, abs=1e-7)
    assert pytest.approx(2.0 * math.pi) == _BOX
    # two numbers that no machine could tell apart: none, rather than a number out of rounding
    lost = [
        log_volume(np.zeros(5), np.outer(a, [1.0, 1.0 + 1e-13]), np.zeros(2), -np.ones(2), np.ones(2))
        for a in 1e9 * np.random.default_rng(1).normal(size=(20, 5))
    ]
    assert -math.inf in lost and math.inf not in lost and None not in lost


def shaped(seed: int, **more: Any) -> Any:
    """A linear fit at its end, sixty readings and two priors, with columns of an odd shape's beside it."""
    rng = np.random.default_rng([7, seed])
    t = np.linspace(0.0, 59.0, 60)
    model = noisy(count=60)
    model.readings = replace(model.readings, time_s=t, sigma_pa=rng.uniform(8.0, 12.0, 60))
    columns = model.bounds()[0].size
    jac = np.zeros((62, columns))
    jac[:60, [RATE, START, OPENING, GROWTH]] = np.column_stack((t, np.ones(60), t**2 / 60.0, np.sin(t / 9.0)))
    jac[60, RATE] = jac[61, START] = 0.1
    x = np.full(columns, 0.5)
    lower, upper = np.full(columns, 0.5), np.full(columns, 0.5)
    lower[[RATE, START]], upper[[RATE, START]] = 0.0, 1.0
    r = np.append(rng.normal(size=60) + more.pop("add", 0.0), [0.0, 0.0])
    r = r - jac[:, [RATE, START]] @ np.linalg.lstsq(jac[:, [RATE, START]], r, rcond=None)[0]
    fit = Fit(x, float(r @ r), True, "", np.zeros((columns, columns)), r, jac, 1)
    inflation = more.pop("inflation", 1.0)
    fit = replace(fit, residuals=np.append(r[:60] / math.sqrt(inflation), r[60:]))
    fit.jacobian[:60] /= math.sqrt(inflation)
    wider = model.with_sigma(math.sqrt(inflation))
    return HoldFit(wider, fit, lower, upper, inflation, more.pop("misfit", 1.0), 58.0), r, t, model


def test_the_jump_that_mends_most_is_the_best_of_all_refits() -> None:
    """Each step refitted beside the fit by numpy's least squares, the readings as good as said; the largest fall."""
    for seed, inflation in ((0, 1.0), (1, 1.0), (2, 4.0), (3, 1.0)):
        found, r, t, model = shaped(seed, inflation=inflation, add=3.0 * (np.arange(60.0) > 10.0 * seed))
        base = found.fit.jacobian[:, [RATE, START]].copy()
        base[:60] *= math.sqrt(inflation)
        falls = []
        for k in range(60):
            step = np.append((t >= t[k]) / model.readings.sigma_pa, [0.0, 0.0])
            both = np.column_stack((base, step))
            by, *_ = np.linalg.lstsq(both, -r, rcond=None)
            left = r + both @ by
            falls.append((float(r @ r - left @ left), float(by[2]), left[:60]))
        falls = [(0.0, 0.0, None) if t[k] < 1.0 or k == 59 else one for k, one in enumerate(falls)]
        best = int(np.argmax([fall for fall, _, _ in falls]))
        jump = biggest_jump(found)
        assert jump is not None and jump.time_s == t[best]
        assert jump.score == pytest.approx(falls[best][0]) and jump.size_pa == pytest.approx(falls[best][1])
        assert jump.sd_pa == pytest.approx(abs(jump.size_pa) / math.sqrt(jump.score))
        assert jump.leftover == pytest.approx(falls[best][2], abs=1e-6)
        left = float(np.sum(jump.leftover**2)) / 56.0
        assert scatter_after(jump, found) == pytest.approx(max(left * correlation_widening(jump.leftover), 1.0))
    assert isinstance(jump, Jump)


def test_a_look_by_the_score_of_each_shape() -> None:
    """6 of chi2 by one of both directions beside the fit, as the readings were; 8 spent on priors; a misfit of 1.3."""
    t = np.linspace(0.0, 59.0, 60)
    for size_, inflation in ((0.0, 1.0), (0.4, 1.0), (0.8, 1.0), (0.2, 4.0), (1.6, 4.0)):
        for direction in (np.sin(t / 9.0), t**2 / 1800.0):
            found, r, _, _ = shaped(9, inflation=inflation, add=size_ * direction)
            base = found.fit.jacobian[:, [RATE, START]].copy()
            base[:60] *= math.sqrt(inflation)
            scores = []
            for key in (OPENING, GROWTH):
                both = np.column_stack((base, found.fit.jacobian[:, key]))
                by, *_ = np.linalg.lstsq(both, r, rcond=None)
                scores.append(float(r @ r - np.sum((r - both @ by) ** 2)))
            assert worth_a_look(found) is (max(scores) > 6.0)
    plain, *_ = shaped(9)
    assert not worth_a_look(plain) and worth_a_look(replace(plain, misfit=1.31))
    assert not worth_a_look(replace(plain, misfit=1.3))
    for spent, looked in ((7.9, False), (8.1, True)):
        r = plain.fit.residuals.copy()
        r[60:] = math.sqrt(spent / 2.0)
        assert worth_a_look(replace(plain, fit=replace(plain.fit, residuals=r))) is looked


def test_a_jump_that_the_fit_has_already_is_none() -> None:
    """One of its numbers is that very jump, and nothing is left over."""
    found, _, t, model = shaped(4)
    found.fit.jacobian[:60, START] = (t >= t[30]) / model.readings.sigma_pa
    still = replace(found, fit=replace(found.fit, residuals=np.zeros(62)))
    assert biggest_jump(still) is None


def test_six_readings_may_have_a_shape() -> None:
    found = search(noisy(count=6))
    assert biggest_jump(found) is not None
    pressed = found.fit.residuals.copy()
    pressed[6:] = 5.0
    found = replace(found, fit=replace(found.fit, residuals=pressed))
    assert worth_a_look(found) is True
    five = search(noisy(count=5))
    pressed = five.fit.residuals.copy()
    pressed[5:] = 5.0
    assert worth_a_look(replace(five, fit=replace(five.fit, residuals=pressed))) is False
