"""Inlet needles: logs of pop-offs made by hand, each fault failed for its own reason."""

from dataclasses import replace

import numpy as np
import pytest

from leakdown.judge.analyse import analyse
from leakdown.judge.needle import needle
from leakdown.judge.settings import Settings
from leakdown.recording import Conditions, Recording


def log(openings, reseats, every=0.05, dribble_per_s=0.0, runs_empty=False, noise=150.0, steps=50, seed=3):
    """Pump up, let go, reseat, vent; openings and reseats in Pa."""
    rng, p = np.random.default_rng(seed), []
    for opening, reseat in zip(openings, reseats, strict=True):
        p += list(np.linspace(0.0, opening, steps))
        left = np.exp(-1.2 * np.arange(1, 7))
        p += (
            list(reseat + (opening - reseat) * left)
            if not runs_empty
            else list(opening * np.exp(-0.8 * np.arange(1, 9)))
        )
        if not runs_empty:
            p += list(reseat * np.exp(-dribble_per_s * every * np.arange(40)))
            p += list(reseat * 0.5 ** np.arange(1, 10))
    values = np.array(p) + rng.normal(0, noise, len(p))
    told = Conditions("carburettor-inlet", "pressure")
    return Recording(np.arange(values.size) * every, values, conditions=told)


FIVE = [98e3, 100e3, 102e3, 99e3, 101e3]


def test_a_healthy_needle():
    found = needle(log(FIVE, [60e3] * 5), range_pa=200e3)
    assert found.word == "pass"
    assert [round(p.opening_pa / 1e3) for p in found.pops] == pytest.approx([98, 100, 102, 99, 101], abs=1)
    assert all(p.reseat_pa == pytest.approx(60e3, rel=0.03) for p in found.pops)
    assert found.opening_pa.low < 100e3 < found.opening_pa.high
    assert found.hold_at_pa == pytest.approx(42e3, rel=0.02)
    assert found.flags == ()


def test_openings_that_differ_are_flagged():
    found = needle(log([80e3, 100e3, 102e3, 99e3, 101e3], [60e3] * 5), range_pa=200e3)
    # by hand: (102 - 80) / 96.4 = 22.8 %
    assert found.spread == pytest.approx(0.228, abs=0.01)
    assert found.word == "fail" and "differ" in found.reason


def test_a_dribbling_needle_fails_because_it_dribbles():
    found = needle(log(FIVE, [60e3] * 5, dribble_per_s=0.03), range_pa=200e3)
    assert found.word == "fail" and "dribbles" in found.reason


def test_a_needle_that_stays_open():
    found = needle(log(FIVE, [0.0] * 5, runs_empty=True), range_pa=200e3)
    assert found.word == "fail" and "does not close again" in found.reason
    assert found.hold_at_pa is None


def test_the_end_of_the_gauge_is_no_opening():
    found = needle(log([100e3] * 5, [60e3] * 5), range_pa=100e3)
    assert found.word == "undecided"
    assert "over-range" in [flag.code for flag in found.flags]
    assert found.opening_pa is None


def test_a_needle_that_never_opens():
    rising = Recording(np.arange(100) * 0.1, np.linspace(0, 100e3, 100))
    assert needle(rising, range_pa=100e3).word == "undecided"
    high = Recording(np.arange(100) * 0.1, np.linspace(0, 260e3, 100))
    found = needle(high, range_pa=400e3)
    assert found.word == "fail" and "does not open" in found.reason


def test_three_openings_are_too_few():
    assert needle(log([100e3] * 3, [60e3] * 3), range_pa=200e3).word == "undecided"


def test_a_slow_log_and_a_forced_float_needle_are_flagged():
    slow = log(FIVE, [60e3] * 5, every=0.5)
    assert {"slow-log", "range-unknown"} <= {f.code for f in needle(slow).flags}
    float_ = needle(Recording(np.arange(60) * 0.1, np.linspace(0, 40e3, 60)), "float-inlet", 100e3)
    assert float_.word == "undecided"
    assert "over-caution-pressure" in [f.code for f in float_.flags]


@pytest.mark.parametrize("every", [0.02, 0.05, 0.1])
@pytest.mark.parametrize("seed", range(4))
def test_any_fast_log_gives_the_same(every, seed):
    found = needle(log(FIVE, [60e3] * 5, every=every, seed=seed, noise=300.0), range_pa=200e3)
    assert len(found.pops) == 5
    assert found.word == "pass"


def test_every_opening_is_said():
    recording = log(FIVE, [60e3] * 5)
    told = replace(recording, conditions=Conditions("carburettor-inlet", "pressure"))
    found = analyse(told, Settings(gauge_range_pa=200e3))
    (finding,) = found.findings
    assert found.verdict.word == "pass"
    assert finding.sentence.count(" to ") == 5 and "70 % of where it closes" in finding.sentence


def pumped(openings, every, noise, stroke_pa, pause_s, reseat, seed):
    """A log of hand strokes: each lifts by a step in 0.15 s and seats back a little, until it opens."""
    rng = np.random.default_rng(seed)
    fine, now, size, t = [], 0.0, 0.0, []
    for opening in openings:
        while True:
            top = min(size + stroke_pa * rng.uniform(0.8, 1.1), opening)
            fine += [(now, size), (now + 0.15, top)]
            now += 0.15
            if top >= opening:
                break
            size = 0.985 * top
            fine += [(now + 0.1, size), (now + 0.6, size)]
            now += 0.65
        size = opening * reseat
        fine += [(now + 0.12, size), (now + pause_s, size)]
        now += pause_s + 0.05
    t = np.arange(0.0, now, every)
    p = np.interp(t, *np.array(fine).T) + rng.normal(0.0, noise, t.size)
    return Recording(t, np.round(p / 100.0) * 100.0)


@pytest.mark.parametrize("seed", range(20))
def test_openings_are_found_in_logs_of_strokes(seed):
    rng = np.random.default_rng(seed)
    openings = rng.uniform(70e3, 150e3) * rng.uniform(0.96, 1.04, 5)
    reseat = rng.uniform(0.4, 0.8)
    recording = pumped(
        openings, rng.choice([0.02, 0.05, 0.1]), rng.uniform(10, 300), rng.uniform(4e3, 25e3),
        rng.choice([0.8, 3.0, 8.0]), reseat, seed,
    )  # fmt: skip
    found = needle(recording, range_pa=200e3)
    assert len(found.pops) == 5
    assert found.word == "pass", found.reason
    for pop, opening in zip(found.pops, openings, strict=True):
        assert pop.opening_pa == pytest.approx(opening, rel=0.12)  # a reading may miss the very top
        assert pop.reseat_pa == pytest.approx(opening * reseat, rel=0.05)


def test_a_flat_top_at_the_end_of_the_scale_is_no_opening():
    free = pumped([120e3] * 5, 0.05, 20.0, 8e3, 3.0, 0.6, 1)
    held = Recording(free.time_s, np.minimum(free.pressure_pa, 100e3))
    found = needle(held)
    assert found.word == "undecided" and all(pop.clipped for pop in found.pops)


@pytest.mark.parametrize("tau_s", [40.0, 1e9])
@pytest.mark.parametrize("noise", [30.0, 300.0])
def test_a_hold_that_is_let_out_at_its_end_is_no_opening(tau_s, noise):
    t = np.arange(0.0, 80.0, 0.1)
    p = np.where(t < 3, 0.0, np.where(t < 8, (t - 3) * 10e3, 50e3 * np.exp(-(t - 8) / tau_s)))
    p = np.where(t > 70, p * np.exp(-np.maximum(t - 70, 0) / 0.2), p)
    p = p + np.random.default_rng(1).normal(0.0, noise, t.size)
    assert needle(Recording(t, p)).pops == ()


def test_a_hold_after_five_openings_adds_none():
    log = pumped([90e3] * 5, 0.05, 30.0, 8e3, 3.0, 0.6, 1)
    t = np.arange(0.05, 30.0, 0.05)
    hold = np.where(t < 25, 38e3, 38e3 * np.exp(-np.maximum(t - 25, 0) / 0.2))
    both = Recording(np.concatenate((log.time_s, log.time_s[-1] + t)), np.concatenate((log.pressure_pa, hold)))
    found = needle(both, range_pa=200e3)
    assert len(found.pops) == 5 and found.word == "pass"
