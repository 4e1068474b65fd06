"""When a live test stops: widened interval, planned looks, and the error rate of all looks together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from leakdown.judge.analyse import analyse
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
from leakdown.live.bench.estimator import (
    FIRST_LOOK_S,
    LOOKS,
    MIN_PASS_S,
    SPACING,
    WIDENING,
    Looks,
    certain_word,
    widened,
)
from leakdown.recording import Conditions, Recording
from leakdown.uncertainty import Interval
from tests.live.early import KINDS, wrong
from tests.live.stopping import FIXED_S, played, table

LIMIT = parse_limit("7 kPa in 60 s from 40 kPa")
Z = 1.959963984540054


@pytest.mark.parametrize(
    ("measured", "hold_s", "word"),
    [
        (Interval(2e3, 1.8e3, 2.2e3), 40.0, "pass"),
        (Interval(2e3, 1.8e3, 2.2e3), MIN_PASS_S - 0.1, None),  # too short for a pass
        (Interval(20e3, 19e3, 21e3), 6.0, "fail"),
        (Interval(20e3, 19e3, 21e3), 3.0, None),
        (Interval(6e3, 5.2e3, 6.8e3), 40.0, None),  # 95 % would do for one look, not for many
        (Interval(8e3, 7.2e3, 8.8e3), 40.0, None),
        (Interval(None, 0.0, 3e3), 40.0, "pass"),
        (Interval(None, 0.0, 3.2e3), 40.0, None),
        (None, 60.0, None),
    ],
)
def test_certain_enough_to_stop(measured, hold_s, word):
    assert certain_word(measured, LIMIT, hold_s) == word


def test_a_pass_is_never_said_before_20_s():
    assert MIN_PASS_S >= 20.0


def test_the_widening_covers_all_looks():
    """Bonferroni: the quantile at 0.025/looks over the one at 0.025 (scipy's normal distribution)."""
    special = pytest.importorskip("scipy.special")
    assert pytest.approx(special.ndtri(1 - 0.025 / LOOKS) / special.ndtri(0.975), rel=1e-3) == WIDENING


@pytest.mark.parametrize("best", [-6.0, -3.0, -1.0, -0.2, 0.0, 0.5, 1.5, 1.95])
def test_an_upper_limit_is_widened_at_least_as_far_as_its_profile(best):
    """Parabolic chi2 with its minimum at `best` sigma, the leak bounded at zero: limits in closed form."""

    def limit(z: float) -> float:
        return best + (np.sqrt(best**2 + z**2) if best < 0 else z)

    assert widened(Interval(None, 0.0, limit(Z))).high >= limit(WIDENING * Z) * (1 - 1e-12)


def test_a_two_sided_interval_is_widened_at_least_by_the_quantiles():
    wide = widened(Interval(10.0, 8.0, 13.0))
    assert wide.low == pytest.approx(10.0 - WIDENING * 2.0)
    assert wide.high >= 10.0 + WIDENING * 3.0
    assert widened(Interval(10.0, 1.0, 13.0)).low == 0.0


def test_what_bars_the_analysis_bars_the_early_word():
    """A reading of 8 s and an interval far below the limit, once as the judge says it and once doubted."""
    t = np.arange(0.0, 70.0, 0.2)
    recording = Recording(t, 40e3 - 2.0 * t, conditions=Conditions("crankcase", volume_m3=250e-6))
    result = analyse(recording, Settings(limit=LIMIT))
    assert result.verdict.word == "pass" and Looks().take(60.0, result) == "pass"
    doubted = replace(result, verdict=replace(result.verdict, word="undecided"))
    assert Looks().take(60.0, doubted) is None


@pytest.mark.slow
def test_few_wrong_words_near_the_limit(full):
    """In the long form at most 5 in 100 of each kind; the short one only shows that the study runs."""
    for kind in KINDS if full else ("brisk",):
        for multiple in (0.95, 1.05) if full else (1.05,):
            tests = 100 if full else 1
            wrongly, line = wrong(kind, multiple, tests)
            assert wrongly <= 0.05 * tests, line


def test_looks_are_planned_and_finite():
    looks, taken, now_s = Looks(), [], 0.0
    while now_s < 2000.0:
        if looks.due(now_s):
            looks.take(now_s, None)
            taken.append(now_s)
        now_s += 0.1
    assert len(taken) == LOOKS and taken[0] == pytest.approx(FIRST_LOOK_S, abs=0.11)
    assert all(b / a >= SPACING - 1e-9 for a, b in zip(taken, taken[1:], strict=False))


def test_all_looks_together_err_less_than_one_look_may():
    """The rule on a normal estimate whose information grows with time cubed, as a decay's slope does."""
    dice, paths, times = np.random.default_rng(5), 20_000, FIRST_LOOK_S * SPACING ** np.arange(LOOKS)
    information = (times / 10.0) ** 3
    steps = np.diff(information, prepend=0.0)
    score = np.cumsum(dice.normal(0.0, 1.0, (paths, LOOKS)) * np.sqrt(steps), axis=1)
    sigmas = score / np.sqrt(information)  # of estimate minus truth, the truth being the limit
    one_look = np.mean(np.abs(sigmas[:, -1]) > Z)
    every_look = np.mean((np.abs(sigmas) > Z).any(axis=1))
    all_widened = np.mean((np.abs(sigmas) > WIDENING * Z).any(axis=1))
    assert one_look == pytest.approx(0.05, abs=0.006)
    assert every_look > 0.15  # what stopping at the first 95 % interval would do
    assert all_widened <= 0.05


@pytest.mark.slow
@pytest.mark.slow
def test_error_rate_at_the_limit_and_time_saved(full, capsys):
    """Virtual tests through the whole estimate: leaks exactly at the limit, then smaller and larger ones."""
    tests, hold_s = (400, 120.0) if full else (3, 50.0)
    wrong = sum(played(1.0, 7000 + k, hold_s).word != "" for k in range(tests))
    assert wrong <= (0.05 * tests if full else 2)
    small, large = ([played(multiple, 9000 + k, 50.0) for k in range(tests if full else 2)] for multiple in (0.1, 4.0))
    assert all(run.word == "pass" for run in small) and all(run.word == "fail" for run in large)
    assert np.mean([run.after_s for run in small + large]) < 0.7 * FIXED_S
    if full:
        with capsys.disabled():
            print("", *table(60), sep="\n")
